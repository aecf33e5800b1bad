// SPDX-License-Identifier: GPL-3.0-or-later
// The yardstick of `make bench`: the bytes of the files given, through libcsv on one thread, with
// callbacks that only count. Prints the numbers of cells and records.
#include <csv.h>
#include <stdio.h>
#include <stdlib.h>

typedef struct {
    size_t cells;
    size_t records;
} Counts;

static void on_cell(void *cell, size_t length, void *counts) {
    (void)cell;
    (void)length;
    ((Counts *)counts)->cells++;
}

static void on_record(int end, void *counts) {
    (void)end;
    ((Counts *)counts)->records++;
}

static void fail(const char *what, const char *path) {
    fprintf(stderr, "bare_csv: %s: %s\n", path, what);
    exit(EXIT_FAILURE);
}

static void parse(const char *path, Counts *counts) {
    static char chunk[1 << 16];
    struct csv_parser parser;
    FILE *file = fopen(path, "rb");
    if (!file || csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI | CSV_APPEND_NULL) != 0)
        fail("cannot be opened", path);
    for (size_t length; (length = fread(chunk, 1, sizeof chunk, file)) > 0;)
        if (csv_parse(&parser, chunk, length, on_cell, on_record, counts) != length)
            fail(csv_strerror(csv_error(&parser)), path);
    if (ferror(file) || csv_fini(&parser, on_cell, on_record, counts) != 0)
        fail("cannot be read to its end", path);
    csv_free(&parser);
    fclose(file);
}

int main(int argc, char **argv) {
    Counts counts = {0, 0};
    for (int i = 1; i < argc; i++)
        parse(argv[i], &counts);
    printf("%zu cells, %zu records\n", counts.cells, counts.records);
    return EXIT_SUCCESS;
}
