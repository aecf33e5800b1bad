// SPDX-License-Identifier: GPL-3.0-or-later
// Rows by file and line, read a second time.
#include "command/rows.h"

#include "intake/reader.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// Reads on until the record that starts with text is whole (its quotes are even); the text without
// its line end.
static char *whole_record(FILE *stream, GString *row, char **line, size_t *room, uint32_t *number) {
    for (;;) {
        size_t quotes = 0;
        for (gsize i = 0; i < row->len; i++)
            quotes += row->str[i] == '"';
        ssize_t n;
        if (quotes % 2 == 0 || (n = getline(line, room, stream)) < 0)
            break;
        g_string_append_len(row, *line, n);
        (*number)++;
    }
    while (row->len > 0 && strchr("\r\n", row->str[row->len - 1]))
        g_string_truncate(row, row->len - 1);
    return g_strdup(row->str);
}

static void fill_from(FILE *stream, PutAside *rows, guint n) {
    char *line = NULL;
    size_t room = 0;
    ssize_t length;
    GString *row = g_string_new(NULL);
    guint next = 0;
    for (uint32_t number = 1; next < n && (length = getline(&line, &room, stream)) >= 0; number++) {
        while (next < n && rows[next].line < number)
            next++;
        if (next == n || rows[next].line != number)
            continue;
        g_string_truncate(row, 0);
        g_string_append_len(row, line, length);
        if (!rows[next].row)
            rows[next].row = whole_record(stream, row, &line, &room, &number);
        next++;
    }
    g_string_free(row, TRUE);
    free(line);
}

bool rows_fill(const GPtrArray *inputs, Findings *findings, GError **error) {
    PutAside *all = (PutAside *)(void *)findings->put_aside->data;
    const guint total = findings->put_aside->len;
    for (guint first = 0; first < total;) {
        guint n = 0;
        bool wanted = false;
        for (; first + n < total && all[first + n].file == all[first].file; n++)
            wanted = wanted || !all[first + n].row;
        const Input *in = inputs->pdata[all[first].file];
        FILE *stream = wanted && strcmp(in->path, "-") != 0 ? fopen(in->path, "rb") : NULL;
        if (wanted && !stream && strcmp(in->path, "-") != 0) {
            g_set_error(error, READER_ERROR, READER_ERROR_INPUT, "%s: %s", in->path,
                        g_strerror(errno));
            return false;
        }
        if (stream) {
            fill_from(stream, all + first, n);
            fclose(stream);
        }
        first += n;
    }
    return true;
}
