// SPDX-License-Identifier: GPL-3.0-or-later
// Finds the heading of a log.
#include "intake/shape.h"

#include "intake/piece.h"
#include "intake/reader.h"

#include <csv.h>
#include <string.h>

typedef struct {
    GPtrArray *cells;
    bool whole; // the record has ended
} Record;

static void on_cell(void *text, size_t length, void *data) {
    g_ptr_array_add(((Record *)data)->cells, g_strndup(text ? text : "", length));
}

static void on_record(int end, void *data) {
    (void)end;
    ((Record *)data)->whole = true;
}

// Reads the first record from shape->bytes on; false if its quotes are broken, or it does not end.
static bool read_heading(Shape *s, const char *text, size_t length, bool ends) {
    Record record = {s->heads, false};
    struct csv_parser csv;
    bool good = csv_init(&csv, CSV_STRICT | CSV_STRICT_FINI) == 0;
    csv_set_delim(&csv, (unsigned char)s->delimiter);
    while (good && !record.whole && s->bytes < length) {
        const char *line = text + s->bytes, *end = piece_line_end(line, text + length);
        s->lines++;
        s->bytes += (size_t)(end - line);
        if (csv.pstate == 0)
            s->heading_row = s->lines;
        good = csv_parse(&csv, line, (size_t)(end - line), on_cell, on_record, &record) ==
               (size_t)(end - line);
    }
    if (good && !record.whole && ends)
        good = csv_fini(&csv, on_cell, on_record, &record) == 0;
    csv_free(&csv);
    return good && (record.whole || !ends);
}

Shape *shape_find(const char *text, size_t length, bool whole, const LogSettings *settings,
                  uint32_t *line, GError **error) {
    Shape *s = g_new0(Shape, 1);
    s->delimiter = settings->delimiter ? settings->delimiter : ',';
    s->heads = g_ptr_array_new_with_free_func(g_free);
    s->heading_row = 1;
    if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0)
        s->bytes = 3;
    const bool good = read_heading(s, text, length, whole);
    *line = s->heading_row;
    if (good && s->heads->len > 0)
        return s;
    g_set_error(error, READER_ERROR, READER_ERROR_REFUSED, "%s",
                good || s->heads->len == 0 ? "the file has no heading"
                                           : "a quote in the heading is broken");
    shape_free(s);
    return NULL;
}

void shape_free(Shape *s) {
    if (!s)
        return;
    g_ptr_array_unref(s->heads);
    g_free(s);
}
