// SPDX-License-Identifier: GPL-3.0-or-later
// Finds the shape of a log from its first records, read with each delimiter that it may have.
#include "intake/shape.h"

#include "base/visible.h"
#include "intake/form.h"
#include "intake/guard.h"
#include "intake/piece.h"
#include "intake/refusal.h"

#include <csv.h>
#include <string.h>

enum { FIRST_RECORDS = 60 }; // that are looked at

typedef struct {
    uint32_t line;    // it starts on
    uint32_t lines;   // up to its end
    size_t bytes;     // up to its end
    GPtrArray *cells; // char *
    unsigned known;   // cells that are known names
} Record;

// The first records of a log as one delimiter parts them.
typedef struct {
    char delimiter;
    GArray *records; // of Record; those with broken quotes are left out
    guint best;      // the one with the most known names, the earlier of two
    unsigned known;  // of the best
    guint width;     // cells that most records have
    bool even;       // nearly all records have that many, and more than one
    uint32_t broken; // line of the first record with broken quotes, 0 = none
} Reading;

typedef struct {
    GPtrArray *cells;
    bool whole; // the record has ended
} Current;

static void clear_record(gpointer data) {
    g_ptr_array_unref(((Record *)data)->cells);
}

static void on_cell(void *text, size_t length, void *data) {
    g_ptr_array_add(((Current *)data)->cells, g_strndup(text ? text : "", length));
}

static void on_record(int end, void *data) {
    (void)end;
    ((Current *)data)->whole = true;
}

static void start_csv(struct csv_parser *csv, char delimiter) {
    if (csv_init(csv, CSV_STRICT | CSV_STRICT_FINI) != 0)
        g_error("out of memory");
    csv_set_delim(csv, (unsigned char)delimiter);
}

static size_t mark_bytes(const char *text, size_t length) {
    return length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
}

static void end_of(Reading *r, Record *record, Current *current) {
    if (current->cells->len > 0) {
        record->cells = current->cells;
        g_array_append_vals(r->records, record, 1);
    } else
        g_ptr_array_unref(current->cells);
    current->cells = g_ptr_array_new_with_free_func(g_free);
    current->whole = false;
}

// Reads at most FIRST_RECORDS records; one that the text cuts off is left out unless the log ends.
static void read_records(Reading *r, const char *text, size_t length, bool whole) {
    struct csv_parser csv;
    Current current = {g_ptr_array_new_with_free_func(g_free), false};
    Record record = {.bytes = mark_bytes(text, length)};
    start_csv(&csv, r->delimiter);
    while (record.bytes < length && r->records->len < FIRST_RECORDS) {
        const char *line = text + record.bytes, *end = piece_line_end(line, text + length);
        const size_t n = (size_t)(end - line);
        if (csv.pstate == 0)
            record.line = record.lines + 1;
        record.lines++;
        record.bytes += n;
        const bool good = csv_parse(&csv, line, n, on_cell, on_record, &current) == n;
        if (current.whole)
            end_of(r, &record, &current);
        else if (!good) {
            r->broken = r->broken ? r->broken : record.line;
            csv_free(&csv);
            start_csv(&csv, r->delimiter);
            g_ptr_array_set_size(current.cells, 0);
        }
    }
    if (whole && record.bytes == length && csv_fini(&csv, on_cell, on_record, &current) == 0 &&
        current.whole)
        end_of(r, &record, &current);
    csv_free(&csv);
    g_ptr_array_unref(current.cells);
}

static void find_best(Reading *r, ShapeKnows knows, void *data) {
    for (guint i = 0; i < r->records->len; i++) {
        Record *record = &g_array_index(r->records, Record, i);
        guint filled = 0;
        for (guint c = 0; c < record->cells->len; c++) {
            record->known += knows(record->cells->pdata[c], data);
            filled += *(const char *)record->cells->pdata[c] != 0;
        }
        if (i > 0 && 2 * record->known < filled)
            record->known = 0; // a value here and there may be called as a field is
        if (record->known > r->known) {
            r->known = record->known;
            r->best = i;
        }
    }
}

static void find_width(Reading *r) {
    guint most = 0;
    for (guint i = 0; i < r->records->len; i++) {
        const guint width = g_array_index(r->records, Record, i).cells->len;
        guint n = 0;
        for (guint k = 0; k < r->records->len; k++)
            n += g_array_index(r->records, Record, k).cells->len == width;
        if (n > most || (n == most && width > r->width)) {
            most = n;
            r->width = width;
        }
    }
    r->even = r->width > 1 && 5 * most >= 4 * r->records->len;
}

static Reading read_with(char delimiter, const char *text, size_t length, bool whole,
                         ShapeKnows knows, void *data) {
    Reading r = {.delimiter = delimiter, .records = g_array_new(FALSE, FALSE, sizeof(Record))};
    g_array_set_clear_func(r.records, clear_record);
    read_records(&r, text, length, whole);
    find_best(&r, knows, data);
    find_width(&r);
    return r;
}

static guint filled_cells(const Record *record) {
    guint filled = 0;
    for (guint c = 0; c < record->cells->len; c++)
        filled += *(const char *)record->cells->pdata[c] != 0;
    return filled;
}

// The first record, unless it is narrower than most or has less than half of its cells filled, as
// notes do, and one of their width has all its cells filled.
static guint heading_by_width(const Reading *r) {
    const Record *first = &g_array_index(r->records, Record, 0);
    if ((first->cells->len >= r->width && 2 * filled_cells(first) >= r->width) || !r->even)
        return 0;
    for (guint i = 1; i < r->records->len; i++) {
        const Record *record = &g_array_index(r->records, Record, i);
        if (record->cells->len == r->width && filled_cells(record) == r->width)
            return i;
    }
    return 0;
}

// Whether a row of which no word is known holds what headings don't: stamps, dates, clock times,
// decimals, or an identifier.
static bool is_record(const Record *record) {
    for (guint c = 0; c < record->cells->len; c++) {
        const char *cell = record->cells->pdata[c];
        const Form form = form_of_cell(cell);
        if ((form != FORM_TEXT && form != FORM_WHOLE && form != FORM_SERIAL_DAY) ||
            !guard_may_show(cell, strlen(cell)))
            return true;
    }
    return false;
}

// The record that the setting header_row names; records->len if there is none.
static guint heading_by_setting(const Reading *r, uint32_t row) {
    guint i = 0;
    while (i < r->records->len && g_array_index(r->records, Record, i).line < row)
        i++;
    return i;
}

static Shape *shape_of(const Reading *r, const LogSettings *settings, uint32_t *line,
                       GError **error) {
    guint heading = settings->header_row ? heading_by_setting(r, settings->header_row)
                    : r->known > 0       ? r->best
                                         : 0;
    if (r->records->len > 0 && r->known == 0 && !settings->header_row)
        heading = heading_by_width(r);
    *line = settings->header_row ? settings->header_row : MAX(r->broken, 1);
    if (heading >= r->records->len) {
        refusal_set(error, "%s",
                    r->broken              ? "a quote in the heading is broken"
                    : settings->header_row ? "header_row in network.ini names no row near the top"
                                           : "the file has no heading");
        return NULL;
    }
    const Record *record = &g_array_index(r->records, Record, heading);
    if (r->broken && r->known == 0 && r->broken < record->line) {
        refusal_set(error, "a quote in the heading is broken");
        return NULL;
    }
    if (r->known == 0 && !settings->header_row && is_record(record)) {
        *line = record->line;
        refusal_set(error,
                    "this row looks like a record, and no heading was found: write a heading above "
                    "the records, or say on which line it stands (header_row in network.ini)");
        return NULL;
    }
    Shape *s = g_new0(Shape, 1);
    s->delimiter = r->delimiter;
    s->heads = g_ptr_array_ref(record->cells);
    s->heading_row = record->line;
    s->lines = record->lines;
    s->bytes = record->bytes;
    s->notes = heading;
    return s;
}

// Whether every comma in the cells is the sign of a decimal, so that it parts none.
static bool commas_are_decimal(const Reading *r) {
    for (guint i = 0; i < r->records->len; i++) {
        const Record *record = &g_array_index(r->records, Record, i);
        for (guint c = 0; c < record->cells->len; c++) {
            const char *cell = record->cells->pdata[c];
            const Form form = strchr(cell, ',') ? form_of_cell(cell) : FORM_DECIMAL;
            if (form != FORM_DECIMAL && form != FORM_SERIAL)
                return false;
        }
    }
    return true;
}

// A log of unknown words whose rows are even by a comma too, where those of another sign's reading
// are all in decimals: then it is no rival of that one.
static void drop_decimal_commas(Reading *readings, unsigned n) {
    for (unsigned i = 1; i < n; i++) // the comma's is the first
        if (readings[i].even && commas_are_decimal(&readings[i]))
            readings[0].even = false;
}

// The reading that the log leaves no doubt about: by known names, else by rows of even width; NULL
// if two are as good.
static const Reading *choose(const Reading *readings, unsigned n) {
    const Reading *best = &readings[0];
    bool tie = false;
    for (unsigned i = 1; i < n; i++) {
        const Reading *r = &readings[i];
        const bool better =
            r->known != best->known ? r->known > best->known : r->even && !best->even;
        if (better)
            best = r;
        tie = better ? false : tie || (r->known == best->known && r->even && best->even);
    }
    return tie ? NULL : best;
}

static bool any_line_end(const char *text, size_t length) {
    return memchr(text, '\n', length) || memchr(text, '\r', length);
}

Shape *shape_find(const char *text, size_t length, bool whole, const LogSettings *settings,
                  ShapeKnows knows, void *data, uint32_t *line, GError **error) {
    static const char delimiters[] = {',', ';', '\t'};
    Reading readings[3];
    unsigned n = 0;
    const Reading *chosen = NULL;
    *line = 1;
    if (length >= SHAPE_BYTES && !any_line_end(text, SHAPE_BYTES)) {
        refusal_set(error, "no line ends in its first %d KiB, so it is no CSV", SHAPE_BYTES >> 10);
        return NULL;
    }
    if (settings->delimiter)
        chosen = &readings[n++],
        readings[0] = read_with(settings->delimiter, text, length, whole, knows, data);
    for (unsigned d = 0; !settings->delimiter && d < sizeof delimiters; d++) {
        readings[n++] = read_with(delimiters[d], text, length, whole, knows, data);
        const Reading *r = &readings[n - 1];
        if (r->known > 1 && r->known == g_array_index(r->records, Record, r->best).cells->len) {
            chosen = r; // every head is known, what else could it be
            break;
        }
    }
    if (!chosen)
        drop_decimal_commas(readings, n);
    Shape *s = NULL;
    if (!chosen && !(chosen = choose(readings, n)))
        refusal_set(error, "cells may be parted by more than one sign; say which in network.ini: "
                           "delimiter = comma, semicolon or tab");
    else
        s = shape_of(chosen, settings, line, error);
    for (unsigned i = 0; i < n; i++)
        g_array_unref(readings[i].records);
    return s;
}

void shape_free(Shape *s) {
    if (!s)
        return;
    g_ptr_array_unref(s->heads);
    g_free(s);
}

// ---- decimals ----

typedef struct {
    const bool *is_number;
    guint n_heads, column;
    uint32_t points, commas, doubtful; // cells as 12.5, as 12,5, as 1,500
} Decimals;

static size_t digits_at(const char *text, size_t length, size_t from) {
    size_t n = 0;
    while (from + n < length && g_ascii_isdigit(text[from + n]))
        n++;
    return n;
}

static void look_at_decimal(Decimals *d, const char *text, size_t length) {
    const size_t whole = digits_at(text, length, 0);
    if (whole == 0 || whole >= length)
        return;
    const size_t fraction = digits_at(text, length, whole + 1);
    if (fraction == 0 || whole + 1 + fraction != length)
        return;
    d->points += text[whole] == '.';
    if (text[whole] == ',')
        *(fraction == 3 && whole <= 3 && text[0] != '0' ? &d->doubtful : &d->commas) += 1;
}

static void on_decimal(void *cell, size_t length, void *data) {
    Decimals *d = data;
    if (d->column >= d->n_heads || !d->is_number[d->column++])
        return;
    char *seen = visible_only(cell, (gssize)length);
    look_at_decimal(d, seen ? seen : cell, seen ? strlen(seen) : length);
    g_free(seen);
}

static void on_decimal_record(int end, void *data) {
    (void)end;
    ((Decimals *)data)->column = 0;
}

char shape_decimal(const Shape *s, const char *text, size_t length, const bool *is_number,
                   uint32_t *line, GError **error) {
    Decimals d = {.is_number = is_number, .n_heads = s->heads->len};
    struct csv_parser csv;
    start_csv(&csv, s->delimiter);
    // where a record's quotes are broken, what was seen so far must do
    csv_parse(&csv, text + s->bytes, length - s->bytes, on_decimal, on_decimal_record, &d);
    csv_free(&csv);
    if (d.commas > 0 && d.commas >= 9 * d.points)
        return ',';
    if (d.points > 0 || d.doubtful == 0)
        return '.';
    *line = s->heading_row;
    refusal_set(error,
                "decimals as 1,500 may be 1.5 or 1500; write the numbers without thousands, or say "
                "decimal = comma in network.ini");
    return 0;
}
