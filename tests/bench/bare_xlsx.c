// SPDX-License-Identifier: GPL-3.0-or-later
// The least that a workbook takes: libxlsxwriter alone writes cells that are in memory already.
// bare_xlsx FILE FOLDER: cells come as lines of standard input, in order: sheet, row, column
// (numbers from 0), n or s, and a number or a text, with tabs between them. FILE is the workbook,
// FOLDER for files on the way. Prints the seconds that the library took.
#include <glib.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <xlsxwriter.h>

typedef struct {
    guint sheet;
    lxw_row_t row;
    lxw_col_t column;
    double number;
    char *text; // NULL: it is a number
} Cell;

static GArray *read_cells(void) {
    GArray *cells = g_array_new(FALSE, FALSE, sizeof(Cell));
    char *line = NULL;
    size_t room = 0;
    while (getline(&line, &room, stdin) > 0) {
        char **part = g_strsplit(g_strchomp(line), "\t", 5);
        if (g_strv_length(part) != 5) {
            fprintf(stderr, "bare_xlsx: no cell: %s\n", line);
            exit(EXIT_FAILURE);
        }
        const Cell cell = {(guint)strtoul(part[0], NULL, 10), (lxw_row_t)strtoul(part[1], NULL, 10),
                           (lxw_col_t)strtoul(part[2], NULL, 10), g_ascii_strtod(part[4], NULL),
                           *part[3] == 's' ? g_strdup(part[4]) : NULL};
        g_array_append_val(cells, cell);
        g_strfreev(part);
    }
    free(line);
    return cells;
}

static bool write_cells(const GArray *cells, const char *file, char *folder) {
    lxw_workbook_options options = {.constant_memory = LXW_TRUE, .tmpdir = folder};
    lxw_workbook *book = workbook_new_opt(file, &options);
    lxw_format *format = workbook_add_format(book);
    lxw_worksheet *sheet = NULL;
    guint sheets = 0;
    format_set_num_format(format, "#,##0");
    for (guint i = 0; i < cells->len; i++) {
        const Cell *c = &g_array_index(cells, Cell, i);
        while (sheets <= c->sheet) {
            sheet = workbook_add_worksheet(book, NULL);
            sheets++;
        }
        if (c->text)
            worksheet_write_string(sheet, c->row, c->column, c->text, NULL);
        else
            worksheet_write_number(sheet, c->row, c->column, c->number, format);
    }
    return workbook_close(book) == LXW_NO_ERROR;
}

int main(int argc, char **argv) {
    if (argc != 3)
        return EXIT_FAILURE;
    const GArray *cells = read_cells();
    const gint64 start = g_get_monotonic_time();
    if (cells->len == 0 || !write_cells(cells, argv[1], argv[2])) {
        fprintf(stderr, "bare_xlsx: %s was not written\n", argv[1]);
        return EXIT_FAILURE;
    }
    printf("%.3f\n", (double)(g_get_monotonic_time() - start) / 1e6);
    return EXIT_SUCCESS;
}
