// SPDX-License-Identifier: GPL-3.0-or-later
// Orders are ruled out by dates that do not exist in them; one must be left.
#include "intake/dateforms.h"

#include "base/visible.h"
#include "intake/piece.h"
#include "intake/refusal.h"

#include <csv.h>
#include <string.h>

// Farthest days between the dates of one record that show from where its serials count (our choice,
// no source); the two bases lie BASES apart.
enum { NEAR = 60, BASES = 1462 };

typedef struct {
    bool serial, other;
} ColumnForms;

typedef struct {
    unsigned column;
    Stamp stamp;
} Dated;

typedef struct {
    DateForms forms;
    const bool *is_date;
    unsigned n_heads;
    ColumnForms *columns;
    GArray *record; // Dated: those of the record so far
    unsigned cells, filled;
    uint32_t line, start; // of the log; where the record starts
} Look;

static void on_cell(void *text, size_t length, void *data) {
    Look *look = data;
    Dated d = {.column = look->cells++};
    look->filled += length > 0;
    if (length == 0 || d.column >= look->n_heads || !look->is_date[d.column])
        return;
    char *seen = visible_only(text, (gssize)length);
    const bool read =
        seen ? stamp_read(seen, strlen(seen), &d.stamp) : stamp_read(text, length, &d.stamp);
    if (read && d.stamp.form != STAMP_NO_DATE)
        g_array_append_val(look->record, d);
    g_free(seen);
}

static void look_at_order(Look *look, const Stamp *s) {
    DateForms *f = &look->forms;
    if (!stamp_allows(s, DATE_ORDER_UNSET))
        return; // it is no date
    if (f->dates++ == 0)
        f->first_line = look->start;
    for (DateOrder o = DATE_ORDER_YMD; o <= DATE_ORDER_MDY; o++)
        if (f->ruled_out[o] == 0 && !stamp_allows(s, o))
            f->ruled_out[o] = look->start;
}

static void look_at_form(Look *look, const Dated *d) {
    DateForms *f = &look->forms;
    ColumnForms *column = &look->columns[d->column];
    const bool serial = d->stamp.form == STAMP_SERIAL;
    const bool date = d->stamp.form != STAMP_NUMBERS || stamp_allows(&d->stamp, DATE_ORDER_UNSET);
    if (date && d->stamp.short_year && f->short_line == 0)
        f->short_line = look->start;
    if (serial && f->serials++ == 0)
        f->serial_line = look->start;
    if (f->mixed_line == 0 && (serial ? column->other : column->serial)) {
        f->mixed_line = look->start;
        f->mixed_column = d->column + 1;
    }
    column->serial = column->serial || serial;
    column->other = column->other || !serial;
}

// What a record's first serial and first other date that needs no order say of the base.
static void look_at_base(Look *look) {
    static const StampStyle style = {.century_pivot = -1, .serial_base = 1900};
    int32_t serial = WHEN_UNKNOWN, other = WHEN_UNKNOWN, day;
    for (guint i = 0; i < look->record->len; i++) {
        const Stamp *s = &g_array_index(look->record, Dated, i).stamp;
        int32_t *into = s->form == STAMP_SERIAL ? &serial : &other;
        if (*into == WHEN_UNKNOWN && stamp_day(s, &style, &day) == STAMP_FINE)
            *into = day;
    }
    if (serial == WHEN_UNKNOWN || other == WHEN_UNKNOWN)
        return;
    look->forms.from_1900 += ABS(other - serial) <= NEAR;
    look->forms.from_1904 += ABS(other - serial - BASES) <= NEAR;
}

static void begin_record(Look *look) {
    look->cells = look->filled = 0;
    g_array_set_size(look->record, 0);
}

static void on_record(int end, void *data) {
    (void)end;
    Look *look = data;
    if (look->cells == look->n_heads && look->filled > 1 && look->record->len > 0) {
        for (guint i = 0; i < look->record->len; i++) {
            const Dated *d = &g_array_index(look->record, Dated, i);
            if (d->stamp.form == STAMP_NUMBERS)
                look_at_order(look, &d->stamp);
            look_at_form(look, d);
        }
        look_at_base(look);
    }
    begin_record(look);
}

static void start_csv(struct csv_parser *csv, char delimiter) {
    if (csv_init(csv, CSV_STRICT | CSV_STRICT_FINI) != 0)
        g_error("out of memory");
    csv_set_delim(csv, (unsigned char)delimiter);
}

DateForms dateforms_look(const char *text, size_t length, char delimiter, const bool *is_date,
                         unsigned n_heads, uint32_t line) {
    Look look = {.is_date = is_date, .n_heads = n_heads, .line = line};
    look.columns = g_new0(ColumnForms, n_heads + 1);
    look.record = g_array_new(FALSE, FALSE, sizeof(Dated));
    struct csv_parser csv;
    start_csv(&csv, delimiter);
    const char *const stop = text + length;
    for (const char *from = text, *end; from < stop; from = end, look.line++) {
        end = piece_line_end(from, stop);
        if (csv.pstate == 0) // ROW_NOT_BEGUN
            look.start = look.line;
        const size_t n = (size_t)(end - from);
        if (csv_parse(&csv, from, n, on_cell, on_record, &look) == n)
            continue;
        csv_free(&csv); // the record is broken: reading goes on behind its line
        start_csv(&csv, delimiter);
        begin_record(&look);
    }
    csv_fini(&csv, on_cell, on_record, &look);
    csv_free(&csv);
    g_array_unref(look.record);
    g_free(look.columns);
    return look.forms;
}

bool dateforms_open(const DateForms *f, const LogSettings *settings) {
    return (f->dates > 0 && !settings->date_order) || (f->serials > 0 && !settings->serial_base) ||
           (f->short_line > 0 && settings->century_pivot < 0);
}

static bool choose_order(const DateForms *f, StampStyle *style, uint32_t *line, GError **error) {
    unsigned left = 0;
    uint32_t last = 0;
    style->order = DATE_ORDER_UNSET;
    for (DateOrder o = DATE_ORDER_YMD; f->dates > 0 && o <= DATE_ORDER_MDY; o++) {
        last = MAX(last, f->ruled_out[o]);
        if (f->ruled_out[o] == 0)
            left++, style->order = o;
    }
    *line = left > 1 ? f->first_line : last;
    if (left > 1)
        return refusal_set(
            error, "day and month may stand in more than one order, no date tells which (first "
                   "here); say it in network.ini: date_order = dmy, mdy or ymd");
    if (f->dates > 0 && left == 0)
        return refusal_set(
            error,
            "dates stand in more than one order (the month is not first in line %u, the "
            "day not in line %u); say the right one in network.ini: date_order = dmy, "
            "mdy or ymd; the others become unknown",
            f->ruled_out[DATE_ORDER_MDY], f->ruled_out[DATE_ORDER_DMY]);
    return true;
}

bool dateforms_choose(const DateForms *f, const LogSettings *settings, StampStyle *style,
                      uint32_t *line, GError **error) {
    if (!settings->date_order && !choose_order(f, style, line, error))
        return false;
    *line = f->short_line;
    if (f->short_line > 0 && settings->century_pivot < 0)
        return refusal_set(
            error, "years have two digits (first here); say in network.ini from which on they "
                   "are 19xx, for example century_pivot = 70");
    if (settings->serial_base || f->serials == 0)
        return true;
    *line = f->mixed_line > 0 ? f->mixed_line : f->serial_line;
    if (f->mixed_line > 0)
        return refusal_set(
            error,
            "column %u holds a spreadsheet's day numbers and dates of another form (they "
            "change first here); say in network.ini from where the numbers count: "
            "serial_base = 1900 or 1904",
            f->mixed_column);
    if (f->from_1900 > 0 && f->from_1904 > 0)
        return refusal_set(
            error, "by the other dates of their rows some of a spreadsheet's day numbers (first "
                   "here) count from 1900 and some from 1904; say in network.ini: serial_base = "
                   "1900 or 1904");
    style->serial_base = f->from_1904 > 0 ? 1904 : 1900;
    return true;
}

const char *dateforms_order_text(const DateForms *f, DateOrder order, Findings *findings) {
    static const char *const first[] = {
        [DATE_ORDER_YMD] = "year", [DATE_ORDER_DMY] = "day", [DATE_ORDER_MDY] = "month"};
    uint32_t line = 0;
    for (DateOrder o = DATE_ORDER_YMD; o <= DATE_ORDER_MDY; o++)
        line = MAX(line, f->ruled_out[o]);
    return finding_text(findings, "dates begin with the %s, as line %u shows", first[order], line);
}
