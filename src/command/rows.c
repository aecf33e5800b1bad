// SPDX-License-Identifier: GPL-3.0-or-later
// Rows by file and line, read a second time.
#include "command/rows.h"

#include "intake/bytes.h"
#include "intake/mask.h"
#include "intake/piece.h"

#include <string.h>

// A log, line by line.
typedef struct {
    Bytes *bytes;
    GString *text;
    gsize at;        // of the next line in text
    uint32_t number; // of the last line
} Lines;

// The next line, its end included; NULL when the log ends, or with an error.
static const char *next_line(Lines *l, size_t *length, GError **error) {
    for (;;) {
        const char *line = l->text->str + l->at, *end = l->text->str + l->text->len;
        const char *stop = piece_line_end(line, end);
        const bool ended = bytes_ended(l->bytes);
        if (line < end && (stop < end || ended)) { // a CR at the end may be half of a CRLF
            l->at += (gsize)(stop - line);
            l->number++;
            *length = (size_t)(stop - line);
            return line;
        }
        g_string_erase(l->text, 0, (gssize)l->at);
        l->at = 0;
        if (ended || !bytes_read(l->bytes, l->text, 1 << 18, error))
            return NULL;
    }
}

static bool quotes_even(const GString *row) {
    size_t quotes = 0;
    for (gsize i = 0; i < row->len; i++)
        quotes += row->str[i] == '"';
    return quotes % 2 == 0;
}

// Fills in the rows of one log, n of them in the order of their lines.
static bool fill_from(Lines *l, const Input *in, PutAside *rows, guint n, GError **error) {
    GString *row = g_string_new(NULL);
    GError *why = NULL;
    size_t length = 0;
    const char *line = "";
    for (guint next = 0; next < n && line; next++) {
        while (l->number < rows[next].line && (line = next_line(l, &length, &why)))
            continue;
        if (rows[next].row || !line || l->number > rows[next].line)
            continue;
        g_string_truncate(row, 0);
        g_string_append_len(row, line, (gssize)length);
        while (!quotes_even(row) && (line = next_line(l, &length, &why)))
            g_string_append_len(row, line, (gssize)length);
        rows[next].row =
            mask_row(row->str, row->len, in->delimiter, in->masks, in->n_columns, in->words, true);
    }
    g_string_free(row, TRUE);
    if (why)
        g_propagate_error(error, why);
    return why == NULL;
}

static bool fill_input(Input *in, PutAside *rows, guint n, GError **error) {
    Lines l = {.bytes = bytes_open(in, in->encoding, error)};
    if (!l.bytes)
        return false;
    l.text = g_string_new(NULL);
    const bool good = fill_from(&l, in, rows, n, error);
    g_string_free(l.text, TRUE);
    bytes_free(l.bytes);
    return good;
}

bool rows_fill(const GPtrArray *inputs, Findings *findings, GError **error) {
    PutAside *all = (PutAside *)(void *)findings->put_aside->data;
    const guint total = findings->put_aside->len;
    bool good = true;
    for (guint first = 0, n; good && first < total; first += n) {
        bool wanted = false;
        for (n = 0; first + n < total && all[first + n].file == all[first].file; n++)
            wanted = wanted || !all[first + n].row;
        good = !wanted || fill_input(inputs->pdata[all[first].file], all + first, n, error);
    }
    return good;
}
