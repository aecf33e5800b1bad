// SPDX-License-Identifier: GPL-3.0-or-later
// CSV through libcsv, all cells as strings.
#include "published_csv.h"

#include <csv.h>

typedef struct {
    GPtrArray *rows, *cells;
    guint columns;
} Reader;

static void end_cell(void *cell, size_t length, void *data) {
    Reader *reader = data;
    g_ptr_array_add(reader->cells, g_strndup(cell, length));
}

static void end_row(int character, void *data) {
    (void)character;
    Reader *reader = data;
    while (reader->cells->len < reader->columns)
        g_ptr_array_add(reader->cells, g_strdup(""));
    g_ptr_array_add(reader->cells, NULL);
    g_ptr_array_add(reader->rows, g_ptr_array_free(reader->cells, FALSE));
    reader->cells = g_ptr_array_new();
}

GPtrArray *published_csv_read(const char *path, guint columns) {
    g_autofree char *text = NULL;
    gsize length;
    if (!g_file_get_contents(path, &text, &length, NULL))
        return NULL;
    Reader reader = {g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev), g_ptr_array_new(),
                     columns};
    struct csv_parser parser;
    csv_init(&parser, 0);
    csv_parse(&parser, text, length, end_cell, end_row, &reader);
    csv_fini(&parser, end_cell, end_row, &reader);
    csv_free(&parser);
    g_ptr_array_unref(reader.cells);
    return reader.rows;
}
