// SPDX-License-Identifier: GPL-3.0-or-later
// Rows: what their cells say goes to the store, what can't be used is accounted for.
#include "intake/row.h"

#include "base/visible.h"
#include "intake/combine.h"
#include "intake/mask.h"
#include "intake/phases.h"
#include "intake/show.h"
#include "intake/sights.h"
#include "intake/swallowed.h"
#include "intake/totals.h"

#include <string.h>

// A cell whose meaning depends on the record's day; its text stands in held_text.
typedef struct {
    uint32_t column;
    unsigned target;
    gsize at, length;
} RowHeld;

static void set_keeper(Row *row) {
    const char *keeper = row->layout->keeper;
    row->keeper = keeper ? transfers_unit(row->t, keeper, strlen(keeper)) : 0;
}

void row_init(Row *row, const Layout *layout, char delimiter, Transfers *t, Findings *findings) {
    memset(row, 0, sizeof *row);
    row->layout = layout;
    row->delimiter = delimiter;
    row->masks = layout_masks(layout);
    row->guard = g_new0(GuardColumn, layout->n_columns + 1);
    row->sights = g_array_new(FALSE, FALSE, sizeof(Sight));
    row->held = g_array_new(FALSE, FALSE, sizeof(RowHeld));
    row->held_text = g_string_new(NULL);
    row->t = t;
    row->findings = findings;
    row->memo = g_new0(Memo *, layout->n_columns + 1);
    for (unsigned c = 0; c < layout->n_columns; c++)
        if (layout->columns[c].few)
            row->memo[c] = g_new0(Memo, layout->columns[c].n_targets);
    set_keeper(row);
}

// Whether values of the field are places in the store's own lists.
static bool is_indexed(FieldId f) {
    return f < FIELD_STORED &&
           (field_table[f].kind == KIND_UNIT || field_table[f].kind == KIND_EVENTS);
}

void row_restart(Row *row) {
    const Layout *layout = row->layout;
    for (unsigned c = 0; c < layout->n_columns; c++)
        for (unsigned i = 0; row->memo[c] && i < layout->columns[c].n_targets; i++)
            if (is_indexed(layout->columns[c].targets[i].field))
                memset(&row->memo[c][i], 0, sizeof row->memo[c][i]);
    memset(row->guard, 0, layout->n_columns * sizeof *row->guard);
    row->rows = 0;
    row->times = (RowTimes){0};
    row->undecided = row->record.serial_seen = false;
    set_keeper(row);
}

void row_clear(Row *row) {
    for (unsigned c = 0; c < row->layout->n_columns; c++)
        g_free(row->memo[c]);
    g_free(row->memo);
    g_free(row->masks);
    g_free(row->guard);
    g_array_unref(row->sights);
    g_array_unref(row->held);
    g_string_free(row->held_text, TRUE);
}

static void note(Row *row, uint32_t column, int field, Severity severity, const char *code,
                 const char *message, const char *found, size_t length) {
    const Finding f = {0, row->line, column, field, severity, code, NULL, message};
    finding_add(row->findings, &f, found, length);
}

static void put_aside(Row *row, bool record, const char *code, const char *message,
                      const char *text, size_t n) {
    finding_put_aside(row->findings, 0, row->line, code, message,
                      mask_row(text, n, row->delimiter, row->masks, row->layout->n_columns,
                               row->layout->words, record));
    note(row, 0, FIELD_COUNT, SEVERITY_SEVERE, code, message, NULL, 0);
}

// The same for what is no record, so that its cells mean nothing.
static void reject(Row *row, const char *code, const char *message, const char *text, size_t n) {
    g_array_set_size(row->findings->findings, row->findings_before);
    put_aside(row, false, code, message, text, n);
}

void row_begin(Row *row, uint32_t line) {
    row->line = line;
    row->column = 0;
    row->filled = 0;
    row->says_total = false;
    row->repeats_heading = true;
    row->findings_before = row->findings->findings->len;
    g_array_set_size(row->sights, 0);
    if (row->held->len > 0) {
        g_array_set_size(row->held, 0);
        g_string_truncate(row->held_text, 0);
    }
    cell_clear(&row->record);
}

// Whether the same was said of the cell already, for another field that it feeds.
static bool told(const Row *row, uint32_t column, const char *code) {
    const GArray *all = row->findings->findings;
    if (all->len <= row->findings_before)
        return false;
    const Finding *last = &g_array_index(all, Finding, all->len - 1);
    return last->column == column + 1 && last->code == code;
}

// Notes what a cell's reading came to; the guard looks at text (a pseudonym, a unit) and at what
// could not be read.
static void tell(Row *row, FieldId f, uint32_t column, const CellFault *fault, const char *text,
                 size_t length) {
    const FieldKind kind = f < FIELD_STORED ? field_table[f].kind : KIND_CODE;
    if ((fault->code && !fault->repaired) || kind == KIND_ID || kind == KIND_UNIT)
        sights_look(row->sights, f, column, text, length);
    if (f == FIELD_events && fault->code)
        row->record.events_untold = true;
    if (!fault->code || told(row, column, fault->code))
        return;
    const bool show = show_found(f, text, length, row->layout->words);
    note(row, column + 1, f < FIELD_STORED ? (int)f : FIELD_COUNT,
         fault->repaired ? SEVERITY_REPAIR : SEVERITY_LOST, fault->code, fault->message,
         show ? text : NULL, length);
}

// Reads one cell for one field that its column feeds, as the log or the mapping writes it.
static void read_cell(Row *row, const LayoutTarget *target, uint32_t column, const char *text,
                      size_t length) {
    const CellStyle *style = &row->layout->style;
    const FieldId f = target->field;
    CellFault fault;
    if (f == MAPPING_HARM)
        fault = cell_read_harm(&row->record, text, length, style);
    else if (target->part == MAPPING_WHOLE)
        fault = cell_read(&row->record, row->t, f, column + 1, text, length, style);
    else
        fault = cell_read_part(&row->record, f, target->part, target->shared, column + 1, text,
                               length, style);
    tell(row, f, column, &fault, text, length);
}

// Takes what the rows of a mapping say of a cell on that day; false if none of them holds then.
static bool take_rows(Row *row, const LayoutTarget *target, uint32_t column, const GPtrArray *rows,
                      int32_t day) {
    bool any = false;
    for (guint i = 0; i < rows->len; i++) {
        const MappingRow *says = rows->pdata[i];
        if (!mapping_holds(says, day))
            continue;
        any = true;
        if (target->field == MAPPING_HARM)
            cell_read_harm(&row->record, says->value, strlen(says->value), &row->layout->plain);
        else if (*says->value) {
            const CombineValue before = combine_begin(&row->record, target->field);
            cell_read(&row->record, row->t, target->field, column + 1, says->value,
                      strlen(says->value), &row->layout->plain);
            combine_end(&row->record, row->t, target->field, &before);
        }
    }
    return any;
}

static void read_mapped(Row *row, const LayoutTarget *target, uint32_t column, const char *text,
                        size_t length, int32_t day);

// Each item of a cell that lists events on its own, unless the mapping names the whole cell.
static bool read_items(Row *row, const LayoutTarget *target, uint32_t column, const char *text,
                       size_t length, int32_t day) {
    const char separator = row->layout->style.separator;
    const char *end = text + length;
    if (target->field != FIELD_events || !memchr(text, separator, length))
        return false;
    for (const char *item = text; item <= end;) {
        const char *stop = memchr(item, separator, (size_t)(end - item));
        if (!stop)
            stop = end;
        const CombineValue before = combine_begin(&row->record, FIELD_events);
        if (stop > item)
            read_mapped(row, target, column, item, (size_t)(stop - item), day);
        combine_end(&row->record, row->t, FIELD_events, &before);
        item = stop + 1;
    }
    return true;
}

// Reads a cell that the mapping may name. Its rows come first, then the built-in reading.
static void read_mapped(Row *row, const LayoutTarget *target, uint32_t column, const char *text,
                        size_t length, int32_t day) {
    const MappingFeed *feed = target->feed;
    bool other;
    const GPtrArray *rows = mapping_find(feed, text, length, &other);
    const bool blank = rows == feed->blank;
    if (other && read_items(row, target, column, text, length, day))
        return;
    if (take_rows(row, target, column, rows, day)) {
        if (other)
            sights_look(row->sights, target->field, column, text, length);
        return;
    }
    if (blank || (feed->cell->len > 0 && !mapping_any_holds(feed->cell, day) && rows->len == 0))
        return; // the mapping reads the column on other days only
    if (rows->len == 0 || mapping_any_holds(feed->cell, day)) {
        read_cell(row, target, column, text, length);
        return;
    }
    const CellFault fault = {.code = "mapped-on-other-days",
                             .message = "the mapping names this value, but not on the record's "
                                        "day; taken as unknown"};
    tell(row, target->field, column, &fault, text, length);
}

// Says that characters were left out, unless nothing is left, so that the cell was blank.
static void tell_unseen(Row *row, FieldId f, uint32_t column, const char *seen) {
    static const char code[] = "unseen";
    const size_t length = strlen(seen);
    if (length > 0 && !told(row, column, code))
        note(row, column + 1, f < FIELD_STORED ? (int)f : FIELD_COUNT, SEVERITY_REPAIR, code,
             "has characters that nobody sees, or other blanks than plain ones; read without them",
             show_found(f, seen, length, row->layout->words) ? seen : NULL, length);
}

static void read_target(Row *row, const LayoutTarget *target, uint32_t column, const char *text,
                        size_t length, int32_t day) {
    char *seen = visible_only(text, (gssize)length);
    if (seen) {
        tell_unseen(row, target->field, column, seen);
        text = seen;
        length = strlen(seen);
    }
    if (target->feed)
        read_mapped(row, target, column, text, length, day);
    else
        read_cell(row, target, column, text, length);
    g_free(seen);
}

// Whether it is remembered what the text means; then that is the field's value.
static inline bool recall(Row *row, FieldId f, uint32_t column, Memo *memo, const char *text,
                          size_t length) {
    if (length == 0 || length > MEMO_LONGEST)
        return false;
    const MemoText key = memo_text(text, length);
    const MemoPlace *place = memo_place(memo, &key);
    if (!memo_is(place, &key))
        return false;
    row->record.draft.value[f] = place->value;
    if (place->looked)
        sights_add(row->sights, column, &place->sight);
    return true;
}

// Reads a text, and remembers what it means; one with a fault is read, and told, each time. Who
// remembers a text need not ask whether it is blank.
static void read_new(Row *row, const LayoutTarget *target, Memo *memo, uint32_t column,
                     const char *text, size_t length) {
    const guint told = row->findings->findings->len, seen = row->sights->len;
    read_target(row, target, column, text, length, WHEN_UNKNOWN);
    const int64_t value = row->record.draft.value[target->field];
    if (value == 0 || length > MEMO_LONGEST || row->findings->findings->len > told ||
        row->sights->len > seen + 1 || visible_nothing(text, length))
        return;
    const MemoText key = memo_text(text, length);
    MemoPlace *place = memo_place(memo, &key);
    *place = (MemoPlace){.text = key, .value = value, .looked = row->sights->len > seen};
    if (place->looked)
        place->sight = g_array_index(row->sights, Sight, seen).sight;
}

// Keeps a cell whose meaning depends on the record's day.
static void hold(Row *row, uint32_t column, unsigned target, const char *text, size_t length) {
    const RowHeld held = {column, target, row->held_text->len, length};
    g_array_append_val(row->held, held);
    g_string_append_len(row->held_text, text, (gssize)length);
}

static void read_field(Row *row, const LayoutTarget *target, uint32_t column, unsigned i,
                       const char *text, size_t length, int32_t day) {
    CombineValue before = {0};
    if (target->several)
        before = combine_begin(&row->record, target->field);
    if (length > 0 && target->few) {
        Memo *memo = &row->memo[column][i];
        if (!recall(row, target->field, column, memo, text, length))
            read_new(row, target, memo, column, text, length);
    } else
        read_target(row, target, column, text, length, day);
    if (target->several)
        combine_end(&row->record, row->t, target->field, &before);
}

// What the first cells of a row tell of whether it is a record.
static void look_at_start(Row *row, uint32_t c, bool blank, const char *text, size_t length) {
    const LayoutColumn *column = c < row->layout->n_columns ? &row->layout->columns[c] : NULL;
    if (row->filled == 0 && !blank && (c == 0 || (column && column->n_targets > 0)))
        row->says_total = row->says_total || totals_begin(text, length);
    if (column && row->repeats_heading)
        row->repeats_heading = layout_heads(column, text, length);
}

static void read_column(Row *row, const LayoutColumn *column, uint32_t c, const char *text,
                        size_t length) {
    for (unsigned i = 0; i < column->n_targets; i++)
        if (column->targets[i].dated)
            hold(row, c, i, text, length);
        else
            read_field(row, &column->targets[i], c, i, text, length, WHEN_UNKNOWN);
}

// Reads a cell as most are, a text that is remembered or a plain stamp; false if it is another.
static inline bool read_soon(Row *row, uint32_t c, const char *text, size_t length) {
    const LayoutColumn *column = &row->layout->columns[c];
    if (column->alone)
        return recall(row, column->targets->field, c, row->memo[c], text, length);
    return column->stamp &&
           cell_read_stamp(&row->record, column->targets->field, text, length, &row->layout->style);
}

// Reads any cell; apart from row_cell, which has little to do for most and so is short.
static G_GNUC_NO_INLINE void read_any(Row *row, uint32_t c, const char *text, size_t length) {
    const bool blank = length == 0 || visible_nothing(text, length);
    if (row->filled == 0 || row->repeats_heading)
        look_at_start(row, c, blank, text, length);
    row->filled += !blank;
    if (c < row->layout->n_columns && (length > 0 || row->layout->columns[c].reads_blank))
        read_column(row, &row->layout->columns[c], c, text, length);
}

void row_cell(Row *row, const char *text, size_t length) {
    const uint32_t c = row->column++;
    const bool begun = row->filled > 0 && !row->repeats_heading;
    if (begun && c < row->layout->n_columns && read_soon(row, c, text, length))
        row->filled++;
    else
        read_any(row, c, text, length);
}

static void tell_phases(Row *row, const PhaseNote *notes, unsigned n) {
    for (unsigned i = 0; i < n; i++)
        note(row, notes[i].column ? notes[i].column : row->layout->column_of[notes[i].field],
             (int)notes[i].field, notes[i].severity, notes[i].code, notes[i].message, NULL, 0);
}

// Local day of the record, as transfers_day has it.
static int32_t day_of(const Row *row) {
    const int64_t *v = row->record.draft.value;
    const int64_t date = v[FIELD_transfer_date];
    if (v[FIELD_requested_at] == WHEN_UNKNOWN && date != WHEN_UNKNOWN)
        return (int32_t)date;
    const int64_t at =
        v[FIELD_requested_at] != WHEN_UNKNOWN ? v[FIELD_requested_at] : v[FIELD_departed_at];
    return at == WHEN_UNKNOWN ? WHEN_UNKNOWN
                              : when_day_of(when_to_local(row->layout->network_zone, (int32_t)at));
}

static void read_held(Row *row) {
    const int32_t day = day_of(row);
    for (guint i = 0; i < row->held->len; i++) {
        const RowHeld *held = &g_array_index(row->held, RowHeld, i);
        const LayoutTarget *target = &row->layout->columns[held->column].targets[held->target];
        read_field(row, target, held->column, held->target, row->held_text->str + held->at,
                   held->length, day);
    }
}

static void finish_events(Row *row) {
    static const CellFault
        untold = {.code = "events-partly",
                  .message =
                      "one column says that there was no event, another can't be read; taken as "
                      "unknown"},
        idle = {.code = "harm-without-event", .message = "a degree of harm without an event"};
    int64_t *list = &row->record.draft.value[FIELD_events];
    size_t n = 0;
    transfers_event_list(row->t, (uint32_t)*list, &n);
    const uint32_t column = row->layout->column_of[FIELD_events];
    if (row->record.events_untold && *list != 0 && n == 0) {
        *list = 0;
        note(row, column, FIELD_events, SEVERITY_LOST, untold.code, untold.message, NULL, 0);
    }
    if (row->record.harm > 0 && n > 0)
        *list = combine_grade(row->t, (uint32_t)*list, row->record.harm);
    else if (row->record.harm >= CODE_harm_LOW || row->record.harm == CODE_harm_NEAR_MISS)
        note(row, column, FIELD_events, SEVERITY_NOTE, idle.code, idle.message, NULL, 0);
}

// What follows from the cells together, before it is asked whether the record can be used.
static void finish(Row *row) {
    CellRecord *record = &row->record;
    PhaseNote notes[PHASES_NOTES];
    if (record->partial || record->n_twice || record->clashing)
        tell_phases(row, notes, phases_resolve(record, &row->layout->style, notes));
    if (row->held->len > 0)
        read_held(row);
    if (record->clashing)
        for (int f = 0; f < FIELD_STORED; f++)
            if (record->clashing >> f & 1) {
                combine_drop(record, (FieldId)f);
                note(row, row->layout->column_of[f], f, SEVERITY_LOST, "columns-disagree",
                     "columns that feed this field say different things; taken as unknown", NULL,
                     0);
            }
    if (record->harm || record->events_untold)
        finish_events(row);
    if (record->draft.value[FIELD_recorded_by] == 0)
        record->draft.value[FIELD_recorded_by] = row->keeper;
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
    PhaseNote notes[PHASES_NOTES];
    tell_phases(row, notes, phases_doubt(&row->record, &row->layout->style, notes));
    row->times.dated_before += row->record.dated_before;
    row->times.next_day += row->record.next_day;
    d->line = row->line;
    if (!transfers_add(row->t, d))
        row->no_memory = true;
}

static const char swallows[] =
    "a quoted cell goes on over lines that look like rows, as where a quote is missing or one too "
    "many; they are in no figure";

static bool swallowed(const Row *row, const char *text, size_t n) {
    return swallowed_rows(text, n, row->delimiter, row->layout->n_columns);
}

// Whether the row is no record, so that what its cells say means nothing; then it is put aside.
static bool no_record(Row *row, const char *text, size_t n) {
    const bool ragged = row->column != row->layout->n_columns;
    const bool lacks = ragged || missing(&row->record.draft);
    if (!ragged && row->repeats_heading)
        reject(row, "heading", "the heading again, no record", text, n);
    else if (lacks && row->says_total)
        reject(row, "total", "a row of totals, no record", text, n);
    else if (lacks && swallowed(row, text, n))
        reject(row, "quote", swallows, text, n);
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
    if (row->findings->findings->len > row->findings_before && swallowed(row, text, n))
        note(row, 0, FIELD_COUNT, SEVERITY_SEVERE, "quote", swallows, NULL, 0);
    sights_tally(row->sights, row->guard, row->line);
    row->undecided = row->undecided || row->record.undecided;
    const int64_t *v = row->record.draft.value;
    const char *without = missing(&row->record.draft);
    if (without)
        put_aside(row, true, without,
                  v[FIELD_sending_unit] == 0 ? "names no sending unit"
                                             : "has neither request, date nor departure",
                  text, n);
    else if (v[FIELD_sending_unit] == v[FIELD_receiving_unit])
        put_aside(row, true, "same-unit",
                  "sending and receiving unit are the same, so no transfer between units", text, n);
    else
        keep_record(row);
}

void row_broken(Row *row, const char *text, size_t n) {
    row->rows++;
    reject(row, "quote", "a quote is not closed or stands inside a cell", text, n);
}
