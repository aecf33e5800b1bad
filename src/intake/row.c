// SPDX-License-Identifier: GPL-3.0-or-later
// Rows: what their cells say goes to the store, what can't be used is accounted for.
#include "intake/row.h"

#include "intake/mask.h"

#include <string.h>

// A cell that the guard looked at.
typedef struct {
    uint32_t column;
    GuardSight sight;
} RowSight;

// What a cell's text meant the last time, for fields with few different texts. A text has one place
// in its column's table, so that a look costs next to nothing; a newcomer takes the place over.
enum { MEMO_PLACES = 32, MEMO_LONGEST = 22 };
typedef struct {
    uint8_t length; // 0 = free
    char text[MEMO_LONGEST];
    int64_t value;
} Memo;
struct RowMemo {
    Memo (*places)[MEMO_PLACES];
};

static bool remembers(FieldId f) {
    const FieldKind kind = field_table[f].kind;
    return kind == KIND_CODE || kind == KIND_UNIT || kind == KIND_EVENTS;
}

static Memo *memo_place(Memo *places, const char *text, size_t length) {
    const unsigned h = (unsigned)(uint8_t)text[0] * 5 + (unsigned)(uint8_t)text[length - 1] * 17 +
                       (unsigned)(uint8_t)text[length / 2] * 29 + (unsigned)length * 3;
    return &places[h % MEMO_PLACES];
}

void row_init(Row *row, const Layout *layout, char delimiter, Transfers *t, Findings *findings) {
    memset(row, 0, sizeof *row);
    row->layout = layout;
    row->delimiter = delimiter;
    row->masks = layout_masks(layout);
    row->guard = g_new0(GuardColumn, layout->n_columns + 1);
    row->sights = g_array_new(FALSE, FALSE, sizeof(RowSight));
    row->t = t;
    row->findings = findings;
    if (layout->keeper)
        row->keeper = transfers_unit(t, layout->keeper, strlen(layout->keeper));
    row->memo = g_new0(RowMemo, layout->n_columns + 1);
    for (unsigned c = 0; c < layout->n_columns; c++)
        row->memo[c].places = g_malloc0_n(layout->columns[c].n_targets, sizeof(Memo[MEMO_PLACES]));
}

void row_clear(Row *row) {
    for (unsigned c = 0; c < row->layout->n_columns; c++)
        g_free(row->memo[c].places);
    g_free(row->memo);
    g_free(row->masks);
    g_free(row->guard);
    g_array_unref(row->sights);
}

static void note(Row *row, uint32_t column, int field, Severity severity, const char *code,
                 const char *message, const char *found, size_t length) {
    const Finding f = {0, row->line, column, field, severity, code, NULL, message};
    finding_add(row->findings, &f, found, length);
}

static void put_aside(Row *row, const char *code, const char *message, const char *text, size_t n) {
    finding_put_aside(row->findings, 0, row->line, code, message,
                      mask_row(text, n, row->delimiter, row->masks, row->layout->n_columns));
    note(row, 0, FIELD_COUNT, SEVERITY_SEVERE, code, message, NULL, 0);
}

// The same for what is no record, so that its cells mean nothing.
static void reject(Row *row, const char *code, const char *message, const char *text, size_t n) {
    g_array_set_size(row->findings->findings, row->findings_before);
    put_aside(row, code, message, text, n);
}

void row_begin(Row *row, uint32_t line) {
    row->line = line;
    row->column = 0;
    row->filled = 0;
    row->says_total = false;
    row->repeats_heading = true;
    row->findings_before = row->findings->findings->len;
    g_array_set_size(row->sights, 0);
    cell_clear(&row->record);
}

// The guard looks at a cell that is text (a pseudonym, a unit) or that its field can't hold. It is
// tallied once the row turns out to be a record.
static void look(Row *row, uint32_t column, const char *text, size_t length) {
    const RowSight seen = {column, guard_look(text, length)};
    g_array_append_val(row->sights, seen);
}

static void tally_sights(Row *row) {
    for (guint i = 0; i < row->sights->len; i++) {
        const RowSight *seen = &g_array_index(row->sights, RowSight, i);
        guard_add(&row->guard[seen->column], &seen->sight, row->line);
    }
}

// Reads one cell for one field that its column feeds.
static void read_target(Row *row, const LayoutTarget *target, uint32_t column, const char *text,
                        size_t length) {
    const FieldId f = target->field;
    const CellFault fault =
        cell_read(&row->record, row->t, f, column + 1, text, length, &row->layout->style);
    const FieldKind kind = field_table[f].kind;
    if (fault.code || kind == KIND_ID || kind == KIND_UNIT)
        look(row, column, text, length);
    if (fault.code) {
        const bool coded =
            kind == KIND_CODE || kind == KIND_TIME || kind == KIND_DATE || kind == KIND_NUMBER;
        const bool show = coded && guard_may_show(text, length);
        note(row, column + 1, (int)f, SEVERITY_LOST, fault.code, fault.message, show ? text : NULL,
             length);
    }
}

// The same through the memory of what texts meant; a text with a fault is read, and told, each
// time.
static void recall_target(Row *row, const LayoutTarget *target, Memo *places, uint32_t column,
                          const char *text, size_t length) {
    int64_t *value = &row->record.draft.value[target->field];
    Memo *memo = memo_place(places, text, length);
    if (memo->length == length && memcmp(memo->text, text, length) == 0) {
        *value = memo->value;
        return;
    }
    read_target(row, target, column, text, length);
    if (*value == 0 || length > MEMO_LONGEST)
        return;
    memo->length = (uint8_t)length;
    memcpy(memo->text, text, length);
    memo->value = *value;
}

static bool is_blank(const char *text, size_t length) {
    while (length > 0 && g_ascii_isspace(*text))
        text++, length--;
    return length == 0;
}

// Whether a text begins as the first cell of a row of totals does (common practice, no source).
static bool says_total(const char *text, size_t length) {
    static const char *const words[] = {"total", "subtotal", "sub-total", "grand total", "sum"};
    for (size_t w = 0; w < G_N_ELEMENTS(words); w++) {
        const size_t n = strlen(words[w]);
        if (length >= n && g_ascii_strncasecmp(text, words[w], n) == 0 &&
            (length == n || !g_ascii_isalnum(text[n]) ||
             (length == n + 1 && g_ascii_tolower(text[n]) == 's')))
            return true;
    }
    return false;
}

void row_cell(Row *row, const char *text, size_t length) {
    const uint32_t c = row->column++;
    const bool blank = is_blank(text, length);
    const bool read = c < row->layout->n_columns && row->layout->columns[c].n_targets > 0;
    row->says_total = row->says_total ||
                      (row->filled == 0 && !blank && (read || c == 0) && says_total(text, length));
    row->filled += !blank;
    if (c >= row->layout->n_columns)
        return;
    const LayoutColumn *column = &row->layout->columns[c];
    if (row->repeats_heading)
        row->repeats_heading =
            strlen(column->head) == length && memcmp(column->head, text, length) == 0;
    if (length == 0)
        return;
    for (unsigned i = 0; i < column->n_targets; i++) {
        const LayoutTarget *target = &column->targets[i];
        if (remembers(target->field))
            recall_target(row, target, row->memo[c].places[i], c, text, length);
        else
            read_target(row, target, c, text, length);
    }
}

static void settle_twice(Row *row) {
    const CellTwice *twice = row->record.twice;
    const unsigned lost = cell_settle(&row->record);
    for (unsigned i = 0; i < row->record.n_twice; i++)
        note(row, twice[i].column, (int)twice[i].field, lost ? SEVERITY_LOST : SEVERITY_REPAIR,
             lost ? "time-twice" : "time-settled",
             lost ? "this local time came twice, the clocks went back; taken as unknown"
                  : "this local time came twice; the order of the stamps decides which",
             NULL, 0);
}

// What follows from the cells together, before it is asked whether the record can be used.
static void finish(Row *row) {
    Draft *d = &row->record.draft;
    if (row->record.n_twice)
        settle_twice(row);
    if (d->value[FIELD_recorded_by] == 0)
        d->value[FIELD_recorded_by] = row->keeper;
}

static const char *missing(const Draft *d) {
    if (d->value[FIELD_sending_unit] == 0)
        return "no-sending-unit";
    if (d->value[FIELD_requested_at] == WHEN_UNKNOWN &&
        d->value[FIELD_transfer_date] == WHEN_UNKNOWN &&
        d->value[FIELD_departed_at] == WHEN_UNKNOWN)
        return "no-date";
    return NULL;
}

static void keep_record(Row *row) {
    Draft *d = &row->record.draft;
    const uint8_t outcome = (uint8_t)d->value[FIELD_outcome];
    if (d->value[FIELD_departed_at] != WHEN_UNKNOWN && outcome >= CODE_outcome_STOOD_DOWN)
        note(row, 0, FIELD_outcome, SEVERITY_LOST, "departed-and-not",
             "has a departure and an outcome that did not depart; how it ended is taken as unknown",
             NULL, 0);
    d->line = row->line;
    if (!transfers_add(row->t, d))
        row->no_memory = true;
}

// Whether the row is no record, so that what its cells say means nothing; then it is put aside.
static bool no_record(Row *row, const char *text, size_t n) {
    const bool ragged = row->column != row->layout->n_columns;
    const bool lacks = ragged || missing(&row->record.draft);
    if (!ragged && row->repeats_heading)
        reject(row, "heading", "the heading again, no record", text, n);
    else if (lacks && row->says_total)
        reject(row, "total", "a row of totals, no record", text, n);
    else if (lacks && row->filled == 1)
        reject(row, "note", "a note in one cell, no record", text, n);
    else if (ragged)
        reject(row, "ragged", "has not as many cells as the heading", text, n);
    else
        return false;
    return true;
}

void row_end(Row *row, const char *text, size_t n) {
    if (row->filled == 0)
        return; // a blank line, of whatever number of cells
    row->rows++;
    finish(row);
    if (no_record(row, text, n))
        return;
    tally_sights(row);
    const int64_t *v = row->record.draft.value;
    const char *without = missing(&row->record.draft);
    if (without)
        put_aside(row, without,
                  v[FIELD_sending_unit] == 0 ? "names no sending unit"
                                             : "has neither request, date nor departure",
                  text, n);
    else if (v[FIELD_sending_unit] == v[FIELD_receiving_unit])
        put_aside(row, "same-unit",
                  "sending and receiving unit are the same, so no transfer between units", text, n);
    else
        keep_record(row);
}

void row_broken(Row *row, const char *text, size_t n) {
    row->rows++;
    reject(row, "quote", "a quote is not closed or stands inside a cell", text, n);
}
