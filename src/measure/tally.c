// SPDX-License-Identifier: GPL-3.0-or-later
// Records are added to cells at the grain of months; larger cells are sums of those.
#include "measure/tally.h"

#include <string.h>

// Cells of one kind: records by state, or sums where a record may add any number; and of a mix the
// counts by value, values to a cell. One cell more than asked for is for records that have none.
typedef struct {
    uint32_t (*records)[COUNT_STATES];
    TallySums *sums;
    uint32_t *part;
} Sheet;

struct Tally {
    const CountData *d;
    const Indicator *in;
    bool plain;                          // records by state will do
    size_t values;                       // of a mix, 0 otherwise
    Sheet unit;                          // [place][month]; place 0 holds all
    bool narrowed;                       // units are judged by some of the records only:
    Sheet judged;                        // the same of those
    Sheet group[CATALOGUE_MOST_BY];      // [group][month]
    Sheet unit_group[CATALOGUE_MOST_BY]; // [place][group], over the months of `all`
};

static Sheet sheet_new(const Tally *y, size_t cells) {
    return (Sheet){y->plain ? g_malloc0_n(cells + 1, COUNT_STATES * sizeof(uint32_t)) : NULL,
                   y->plain ? NULL : g_new0(TallySums, cells + 1),
                   y->values ? g_new0(uint32_t, (cells + 1) * y->values) : NULL};
}

static void sheet_free(Sheet *s) {
    g_free(s->records);
    g_free(s->sums);
    g_free(s->part);
}

static size_t groups_of(const Tally *y, unsigned by) {
    return y->d->codes[y->in->by[by]]->len;
}

Tally *tally_new(const CountData *d, const Indicator *in) {
    Tally *y = g_new0(Tally, 1);
    const size_t units = d->units->len, months = (size_t)d->months;
    y->d = d;
    y->in = in;
    y->plain = in->measure != MEASURE_RATE && in->measure != MEASURE_HOURS;
    if (in->measure == MEASURE_MIX)
        y->values = field_table[in->field].kind == KIND_UNIT ? d->t->units->len
                                                             : field_table[in->field].codes->n + 1u;
    y->unit = sheet_new(y, units * months);
    y->narrowed = catalogue_judges(in) && condition_terms(in->judged) > 0;
    if (y->narrowed)
        y->judged = sheet_new(y, units * months);
    for (unsigned b = 0; b < in->n_by; b++) {
        y->group[b] = sheet_new(y, groups_of(y, b) * months);
        y->unit_group[b] = sheet_new(y, units * groups_of(y, b));
    }
    return y;
}

void tally_free(Tally *y) {
    if (!y)
        return;
    sheet_free(&y->unit);
    sheet_free(&y->judged);
    for (unsigned b = 0; b < y->in->n_by; b++) {
        sheet_free(&y->group[b]);
        sheet_free(&y->unit_group[b]);
    }
    g_free(y);
}

// ---- adding records ----

// The records of a block as the indicator sees them.
typedef struct {
    Block *block;
    const CountRecord *record; // where records by state won't do, else NULL
    const uint16_t *value;     // of a mix of a field
} Seen;

static void add_events(const Tally *y, uint32_t *part, size_t row) {
    size_t n;
    const Event *e = transfers_events_of(y->d->t, row, &n);
    for (size_t k = 0; k < n; k++)
        part[e[k].category] += e[k].harm != CODE_harm_NEAR_MISS;
}

static void add_sums(const Tally *y, TallySums *sums, const CountRecord *r, uint8_t state) {
    const double k = y->in->measure == MEASURE_HOURS ? (double)r->minutes : (double)r->events;
    if (state == COUNT_UNKNOWN) {
        sums->unknown++;
        return;
    }
    sums->total++;
    sums->sum += k;
    sums->squares += k * k;
    sums->largest = MAX(sums->largest, k);
    sums->exposure += r->exposure;
}

// Adds the records to their cells of a sheet.
static void add(const Tally *y, Sheet *s, const Seen *seen, const uint32_t *cell,
                const uint8_t *state) {
    const size_t n = seen->block->n;
    for (size_t i = 0; s->records && i < n; i++)
        s->records[cell[i]][state[i]]++;
    for (size_t i = 0; s->sums && seen->record && i < n; i++)
        if (state[i] != COUNT_OUT)
            add_sums(y, &s->sums[cell[i]], &seen->record[i], state[i]);
    for (size_t i = 0; s->part && i < n; i++) {
        if (state[i] < COUNT_IN)
            continue;
        uint32_t *part = s->part + cell[i] * y->values;
        if (seen->value)
            part[seen->value[i]]++;
        else
            add_events(y, part, seen->block->first + i);
    }
}

static void add_all_sheets(Tally *y, const Seen *seen, const uint8_t *state) {
    const Indicator *in = y->in;
    Block *b = seen->block;
    add(y, &y->unit, seen, block_units(b), state);
    for (unsigned by = 0; by < in->n_by; by++) {
        add(y, &y->group[by], seen, block_groups(b, in->by[by]), state);
        add(y, &y->unit_group[by], seen, block_unit_groups(b, in->by[by]), state);
    }
    if (!y->narrowed)
        return;
    uint8_t narrowed[COUNT_BLOCK] = {0};
    const uint8_t *condition = block_condition(b, in->compare, in->judged);
    for (size_t i = 0; i < b->n; i++)
        narrowed[i] = count_narrowed(state[i], condition[i]);
    add(y, &y->judged, seen, block_units(b), narrowed);
}

void tally_add(Tally *y, Block *b) {
    const Indicator *in = y->in;
    uint8_t state[COUNT_BLOCK] = {0};
    CountRecord record[COUNT_BLOCK];
    const uint8_t *among = block_condition(b, in->among_text, in->among),
                  *events = in->events ? block_condition(b, in->events_text, in->events) : NULL;
    count_states(y->d, in, b->first, b->n, among, events, state);
    Seen seen = {.block = b};
    if (y->values && in->field != FIELD_events)
        seen.value = block_values(b, in->field);
    if (!y->plain) {
        count_numbers(y->d, in, b->first, b->n, events, state, record);
        seen.record = record;
    }
    add_all_sheets(y, &seen, state);
}

// ---- cells ----

static void gather(const Tally *y, const Sheet *s, size_t cell, TallySums *sums, uint64_t *part) {
    if (s->records) {
        const uint32_t *n = s->records[cell];
        sums->total += (uint64_t)n[COUNT_IN] + n[COUNT_EVENT];
        sums->unknown += n[COUNT_UNKNOWN];
        sums->sum += n[COUNT_EVENT];
        sums->squares += n[COUNT_EVENT];
        sums->largest = MAX(sums->largest, n[COUNT_EVENT] > 0);
    } else {
        const TallySums *own = &s->sums[cell];
        sums->total += own->total;
        sums->unknown += own->unknown;
        sums->sum += own->sum;
        sums->squares += own->squares;
        sums->largest = MAX(sums->largest, own->largest);
        sums->exposure += own->exposure;
    }
    for (size_t v = 0; v < y->values; v++)
        part[v] += s->part[cell * y->values + v];
}

// The row of all units of a sheet by unit and month.
static void add_all(const Tally *y, Sheet *s) {
    const size_t months = (size_t)y->d->months;
    if (s->records)
        memset(s->records, 0, months * sizeof *s->records);
    if (s->sums)
        memset(s->sums, 0, months * sizeof *s->sums);
    if (s->part)
        memset(s->part, 0, months * y->values * sizeof *s->part);
    for (size_t at = months; at < y->d->units->len * months; at++) {
        const size_t all = at % months;
        for (int k = 0; s->records && k < COUNT_STATES; k++)
            s->records[all][k] += s->records[at][k];
        for (size_t v = 0; s->part && v < y->values; v++)
            s->part[all * y->values + v] += s->part[at * y->values + v];
        if (s->sums)
            gather(y, &(Sheet){NULL, s->sums, NULL}, at, &s->sums[all], NULL);
    }
}

void tally_finish(Tally *y) {
    add_all(y, &y->unit);
    if (y->narrowed)
        add_all(y, &y->judged);
}

size_t tally_values(const Tally *y) {
    return y->values;
}

unsigned tally_group(const Tally *y, unsigned by, uint16_t value) {
    return y->d->position[y->in->by[by]][value];
}

TallySums tally_cell(const Tally *y, TallyCell c, uint64_t *part) {
    TallySums sums = {0};
    const size_t months = (size_t)y->d->months;
    for (size_t v = 0; v < y->values; v++)
        part[v] = 0;
    if (c.by >= 0 && c.place != 0) {
        gather(y, &y->unit_group[c.by], c.place * groups_of(y, (unsigned)c.by) + c.group, &sums,
               part);
    } else {
        const Sheet *s = c.judged && y->narrowed ? &y->judged
                         : c.by < 0              ? &y->unit
                                                 : &y->group[c.by];
        for (int m = MAX(c.from, 0); m < MIN(c.to, (int)months); m++)
            gather(y, s, (c.by < 0 ? c.place : c.group) * months + (size_t)m, &sums, part);
    }
    for (size_t v = 0; v < y->values; v++)
        sums.total = v == 0 ? part[0] : sums.total + part[v];
    return sums;
}
