// SPDX-License-Identifier: GPL-3.0-or-later
// Small CSV tables on libcsv.
#include "base/csvtable.h"

#include <csv.h>
#include <string.h>

struct CsvTable {
    GPtrArray *cells; // of char *, all rows one after another, heading first
    GArray *starts;   // guint: index of each row's first cell
    GArray *lines;    // guint
    guint line;
};

static void cell_done(void *text, size_t length, void *data) {
    g_ptr_array_add(((CsvTable *)data)->cells, g_strndup(text ? text : "", length));
}

// A row below the heading with nothing in it is none.
static void row_done(int c, void *data) {
    (void)c;
    CsvTable *t = data;
    const guint from = g_array_index(t->starts, guint, t->starts->len - 1);
    guint filled = 0;
    for (guint i = from; i < t->cells->len; i++)
        filled += *(const char *)t->cells->pdata[i] != 0;
    if (filled == 0 && t->lines->len > 0) {
        g_ptr_array_set_size(t->cells, (gint)from);
        return;
    }
    g_array_append_val(t->starts, t->cells->len);
    g_array_append_val(t->lines, t->line);
}

// The sign between cells: no heading that we know has one in it.
static char delimiter_of(const char *text, gsize length) {
    for (const char *c = text; c < text + length && *c != '\n' && *c != '\r'; c++)
        if (*c == ',' || *c == ';' || *c == '\t')
            return *c;
    return ',';
}

static bool tokenise(CsvTable *t, const char *text, gsize length) {
    struct csv_parser p;
    if (csv_init(&p, CSV_STRICT | CSV_STRICT_FINI | CSV_APPEND_NULL) != 0)
        return false;
    csv_set_delim(&p, (unsigned char)delimiter_of(text, length));
    bool good = true;
    guint line = 1;
    t->line = 1;
    for (gsize at = 0; good && at < length; line++) {
        const char *end = memchr(text + at, '\n', length - at);
        const gsize n = end ? (gsize)(end - text) + 1 - at : length - at;
        if (p.pstate == 0)
            t->line = line;
        good = csv_parse(&p, text + at, n, cell_done, row_done, t) == n;
        at += n;
    }
    good = good && csv_fini(&p, cell_done, row_done, t) == 0;
    csv_free(&p);
    return good;
}

static guint width(const CsvTable *t, guint row) {
    return g_array_index(t->starts, guint, row + 1) - g_array_index(t->starts, guint, row);
}

// Spreadsheets write columns without anything in them, not even a heading.
static bool is_bare(const CsvTable *t, guint column) {
    for (guint r = 0; r < t->lines->len; r++)
        if (column < width(t, r) &&
            *(const char *)t->cells->pdata[g_array_index(t->starts, guint, r) + column])
            return false;
    return true;
}

static bool check_heading(const CsvTable *t, const char *name, const char *const *columns,
                          GError **error) {
    for (guint c = 0; c < width(t, 0); c++) {
        const char *head = g_strstrip(t->cells->pdata[c]);
        if (!g_strv_contains(columns, head) && !is_bare(t, c)) {
            char *known = g_strjoinv(", ", (char **)columns);
            g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_INVAL,
                        "%s:1: no such column '%s'; known are %s", name, head, known);
            g_free(known);
            return false;
        }
        for (guint k = 0; *head && k < c; k++)
            if (strcmp(t->cells->pdata[k], head) == 0) {
                g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_INVAL,
                            "%s:1: column '%s' stands twice", name, head);
                return false;
            }
    }
    return true;
}

static bool check_cells(const CsvTable *t, const char *name, guint row, GError **error) {
    const guint from = g_array_index(t->starts, guint, row);
    for (guint c = 0; c < width(t, row); c++)
        if (g_utf8_strlen(t->cells->pdata[from + c], -1) > CSVTABLE_LONGEST) {
            g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_INVAL,
                        "%s:%u: '%s' holds more than %d characters", name,
                        g_array_index(t->lines, guint, row), (char *)t->cells->pdata[c],
                        CSVTABLE_LONGEST);
            return false;
        }
    return true;
}

static bool check(const CsvTable *t, const char *name, const char *const *columns, GError **error) {
    if (t->lines->len == 0) {
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_INVAL, "%s: the file is empty", name);
        return false;
    }
    if (!check_heading(t, name, columns, error))
        return false;
    for (guint r = 1; r < t->lines->len; r++)
        if (width(t, r) != width(t, 0)) {
            g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_INVAL,
                        "%s:%u: expected %u cells, found %u", name,
                        g_array_index(t->lines, guint, r), width(t, 0), width(t, r));
            return false;
        } else if (!check_cells(t, name, r, error))
            return false;
    return true;
}

CsvTable *csvtable_parse(const char *name, const char *text, gsize length,
                         const char *const *columns, GError **error) {
    CsvTable *t = g_new0(CsvTable, 1);
    const guint zero = 0;
    t->cells = g_ptr_array_new_with_free_func(g_free);
    t->starts = g_array_new(FALSE, FALSE, sizeof(guint));
    t->lines = g_array_new(FALSE, FALSE, sizeof(guint));
    g_array_append_val(t->starts, zero);
    if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0)
        text += 3, length -= 3;
    if (!g_utf8_validate(text, (gssize)length, NULL))
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_INVAL,
                    "%s: the file is not UTF-8; save it as CSV in UTF-8", name);
    else if (!tokenise(t, text, length))
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_INVAL, "%s:%u: a quote is broken", name,
                    t->line);
    else if (check(t, name, columns, error))
        return t;
    csvtable_free(t);
    return NULL;
}

CsvTable *csvtable_read(const char *path, const char *const *columns, GError **error) {
    char *text;
    gsize length;
    if (g_file_test(path, G_FILE_TEST_EXISTS) && !g_file_test(path, G_FILE_TEST_IS_REGULAR) &&
        !g_file_test(path, G_FILE_TEST_IS_DIR)) { // it may never end
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_INVAL, "%s: is no ordinary file", path);
        return NULL;
    }
    if (!g_file_get_contents(path, &text, &length, error))
        return NULL;
    CsvTable *t = csvtable_parse(path, text, length, columns, error);
    g_free(text);
    return t;
}

void csvtable_free(CsvTable *t) {
    if (!t)
        return;
    g_ptr_array_unref(t->cells);
    g_array_unref(t->starts);
    g_array_unref(t->lines);
    g_free(t);
}

guint csvtable_rows(const CsvTable *t) {
    return t->lines->len - 1;
}

bool csvtable_has(const CsvTable *t, const char *column) {
    for (guint c = 0; c < width(t, 0); c++)
        if (strcmp(t->cells->pdata[c], column) == 0)
            return true;
    return false;
}

const char *csvtable_cell(const CsvTable *t, guint row, const char *column) {
    for (guint c = 0; c < width(t, 0); c++)
        if (strcmp(t->cells->pdata[c], column) == 0)
            return t->cells->pdata[g_array_index(t->starts, guint, row + 1) + c];
    return "";
}

guint csvtable_line(const CsvTable *t, guint row) {
    return g_array_index(t->lines, guint, row + 1);
}

void csvtable_append(GString *out, const char *text) {
    if (!strpbrk(text, ",\"\r\n")) {
        g_string_append(out, text);
        return;
    }
    g_string_append_c(out, '"');
    for (; *text; text++) {
        if (*text == '"')
            g_string_append_c(out, '"');
        g_string_append_c(out, *text);
    }
    g_string_append_c(out, '"');
}

void csvtable_append_cell(GString *out, const char *text) {
    csvtable_append(out, text);
    g_string_append_c(out, ',');
}
