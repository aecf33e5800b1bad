// SPDX-License-Identifier: GPL-3.0-or-later
// Reads a log's first rows without asking what they mean.
#include "intake/sample.h"

#include "base/visible.h"
#include "intake/bytes.h"
#include "intake/layout.h"
#include "intake/reader.h"
#include "intake/shape.h"
#include "intake/totals.h"
#include "intake/vocabulary.h"

#include <csv.h>
#include <string.h>

enum { SAMPLE_BYTES = 4 << 20 };

typedef struct {
    Sample *sample;
    GPtrArray *row; // char *, cells so far
    size_t most;
} Reading;

static void on_cell(void *text, size_t length, void *data) {
    Reading *r = data;
    g_ptr_array_add(r->row, g_strstrip(visible_copy(text ? text : "", (gssize)length)));
}

// Whether a row is no record, but one of totals or, of three cells or more, a note in one of them.
static bool is_no_record(const GPtrArray *row) {
    const char *first = NULL;
    guint filled = 0;
    for (guint c = 0; c < row->len; c++)
        if (*(const char *)row->pdata[c]) {
            first = first ? first : row->pdata[c];
            filled++;
        }
    return first && ((filled == 1 && row->len > 2) || totals_begin(first, strlen(first)));
}

static void on_row(int end, void *data) {
    (void)end;
    Reading *r = data;
    Sample *s = r->sample;
    bool heading = r->row->len == s->n_columns;
    for (guint c = 0; heading && c < r->row->len; c++)
        heading = strcmp(r->row->pdata[c], s->columns[c].head) == 0;
    if (r->row->len == s->n_columns && !heading && !is_no_record(r->row) && s->rows < r->most) {
        for (guint c = 0; c < r->row->len; c++)
            g_ptr_array_add(s->columns[c].cells, g_steal_pointer(&r->row->pdata[c]));
        s->rows++;
    }
    g_ptr_array_set_size(r->row, 0);
}

static void read_rows(Sample *s, const char *text, size_t length, size_t most) {
    Reading r = {s, g_ptr_array_new_with_free_func(g_free), most};
    struct csv_parser csv;
    if (csv_init(&csv, 0) != 0)
        g_error("out of memory");
    csv_set_delim(&csv, (unsigned char)s->delimiter);
    csv_parse(&csv, text, length, on_cell, on_row, &r);
    csv_fini(&csv, on_cell, on_row, &r);
    csv_free(&csv);
    g_ptr_array_unref(r.row);
}

static Sample *sample_of(const Shape *shape) {
    Sample *s = g_new0(Sample, 1);
    s->n_columns = shape->heads->len;
    s->columns = g_new0(SampleColumn, s->n_columns + 1);
    s->delimiter = shape->delimiter;
    s->heading_row = shape->heading_row;
    for (unsigned c = 0; c < s->n_columns; c++)
        s->columns[c] = (SampleColumn){g_strstrip(visible_copy(shape->heads->pdata[c], -1)),
                                       g_ptr_array_new_with_free_func(g_free)};
    return s;
}

// Text of the log as far as it is looked at.
static bool read_text(Input *input, const LogSettings *settings, GString *text, bool *whole,
                      GError **error) {
    Bytes *bytes = bytes_open(input, settings->encoding, error);
    bool good = bytes != NULL;
    while (good && !bytes_ended(bytes) && text->len < SAMPLE_BYTES)
        good = bytes_read(bytes, text, SAMPLE_BYTES, error);
    *whole = good && bytes_ended(bytes);
    if (bytes)
        bytes_free(bytes);
    return good;
}

// What is known of cells already; most texts of a log come again and again.
typedef struct {
    LogSettings *settings;
    GHashTable *known, *strange; // texts, owned
} Known;

// Whether a cell may be a heading's: a name that the log's mapping or the field table has, or a
// word for a field.
static bool knows(const char *name, void *data) {
    Known *k = data;
    if (g_hash_table_contains(k->known, name))
        return true;
    if (g_hash_table_contains(k->strange, name))
        return false;
    const bool is = layout_knows(name, k->settings) || vocabulary_knows(name);
    g_hash_table_add(is ? k->known : k->strange, g_strdup(name));
    return is;
}

static GHashTable *texts_new(void) {
    return g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
}

Sample *sample_read(Input *input, const Network *network, size_t most, GError **error) {
    LogSettings *settings = logsettings_find(network, inputs_own_name(input), error);
    GString *text = g_string_new(NULL);
    bool whole = false;
    Sample *sample = NULL;
    Known known = {settings, texts_new(), texts_new()};
    if (settings && read_text(input, settings, text, &whole, error)) {
        uint32_t line = 1;
        Shape *shape =
            shape_find(text->str, text->len, whole, settings, knows, &known, &line, error);
        if (shape) {
            sample = sample_of(shape);
            sample->separator = (char)settings->separator;
            read_rows(sample, text->str + shape->bytes, text->len - shape->bytes, most);
            shape_free(shape);
        } else {
            g_prefix_error(error, "%s:%u: ", input->name, line);
        }
    }
    g_string_free(text, TRUE);
    g_hash_table_unref(known.known);
    g_hash_table_unref(known.strange);
    logsettings_free(settings);
    return sample;
}

void sample_free(Sample *s) {
    if (!s)
        return;
    for (unsigned c = 0; c < s->n_columns; c++) {
        g_free(s->columns[c].head);
        g_ptr_array_unref(s->columns[c].cells);
    }
    g_free(s->columns);
    g_free(s);
}
