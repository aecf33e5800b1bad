// SPDX-License-Identifier: GPL-3.0-or-later
// One pass over the records adds each to its cells at the grain of months; larger cells are sums of
// those.
#include "measure/tally.h"

#include <string.h>

// What a record is to an indicator that counts records or those with an event.
enum { UNKNOWN, WITHOUT, WITH, OUT, OUTCOMES };

// Cells of one kind: records by outcome, or sums where a record may add any number; and of a mix
// the counts by value, values to a cell.
typedef struct {
    uint32_t (*records)[OUTCOMES];
    TallySums *sums;
    uint32_t *part;
} Sheet;

struct Tally {
    const CountData *d;
    const Indicator *in;
    bool plain;                            // records by outcome will do
    size_t values;                         // of a mix, 0 otherwise
    Sheet unit;                            // [place][month]; place 0 holds all
    Sheet judged;                          // the same of the records that units are judged by
    Sheet group[CATALOGUE_MOST_BY];        // [group][month]
    Sheet unit_group[CATALOGUE_MOST_BY];   // [place][group], over the months of `all`
    unsigned groups[CATALOGUE_MOST_BY];    // number of groups; 0: not asked for
    uint16_t *position[CATALOGUE_MOST_BY]; // of each value of the field
};

// Records at hand: their outcomes, the cell of each in some sheet, and what they add.
typedef struct {
    size_t first, n;
    CountRecord record[COUNT_BLOCK];
    uint8_t outcome[COUNT_BLOCK], narrowed[COUNT_BLOCK];
    uint32_t cell[COUNT_BLOCK];
} Block;

static Sheet sheet_new(const Tally *y, size_t cells) {
    return (Sheet){y->plain ? g_malloc0_n(cells + 1, OUTCOMES * sizeof(uint32_t)) : NULL,
                   y->plain ? NULL : g_new0(TallySums, cells + 1),
                   y->values ? g_new0(uint32_t, cells * y->values) : NULL};
}

static void sheet_free(Sheet *s) {
    g_free(s->records);
    g_free(s->sums);
    g_free(s->part);
}

// Adds the parts of one record of a mix.
static void add_parts(const Tally *y, Sheet *s, size_t cell, size_t row) {
    uint32_t *part = s->part + cell * y->values;
    if (y->in->field != FIELD_events) {
        part[count_value(y->d->t, y->in->field, row)]++;
        return;
    }
    size_t n;
    const Event *e = transfers_events_of(y->d->t, row, &n);
    for (size_t k = 0; k < n; k++)
        part[e[k].category] += e[k].harm != CODE_harm_NEAR_MISS;
}

static void add(const Tally *y, TallySums *sums, const CountRecord *r, uint8_t outcome) {
    const double k = y->in->measure == MEASURE_HOURS ? (double)r->minutes : (double)r->events;
    if (outcome == UNKNOWN) {
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
static void add_block(const Tally *y, Sheet *s, const Block *b, const uint8_t *outcome) {
    if (s->records)
        for (size_t i = 0; i < b->n; i++)
            s->records[b->cell[i]][outcome[i]]++;
    for (size_t i = 0; s->sums && i < b->n; i++)
        if (outcome[i] != OUT)
            add(y, &s->sums[b->cell[i]], &b->record[i], outcome[i]);
    for (size_t i = 0; s->part && i < b->n; i++)
        if (outcome[i] == WITH || outcome[i] == WITHOUT)
            add_parts(y, s, b->cell[i], b->first + i);
}

static void find_outcomes(const Tally *y, Block *b) {
    const bool share = y->in->measure == MEASURE_SHARE;
    for (size_t i = 0; i < b->n; i++) {
        const CountRecord *r = &b->record[i];
        b->outcome[i] = r->state == COUNT_OUT       ? OUT
                        : r->state == COUNT_UNKNOWN ? UNKNOWN
                        : share && r->events > 0    ? WITH
                                                    : WITHOUT;
    }
}

static void add_units(Tally *y, Block *b, const Condition *judged) {
    const CountData *d = y->d;
    const uint16_t *sender = transfers_units(d->t, FIELD_sending_unit) + b->first;
    const uint16_t *month = d->month + b->first;
    const uint32_t months = (uint32_t)d->months;
    for (size_t i = 0; i < b->n; i++)
        b->cell[i] = d->place[sender[i]] * months + month[i];
    add_block(y, &y->unit, b, b->outcome);
    if (!judged)
        return;
    condition_fill(judged, d->t, b->first, b->n, b->narrowed);
    for (size_t i = 0; i < b->n; i++)
        if (b->narrowed[i] != CONDITION_UNKNOWN || b->outcome[i] == OUT)
            b->narrowed[i] = b->narrowed[i] == CONDITION_FALSE ? OUT : b->outcome[i];
        else
            b->narrowed[i] = UNKNOWN;
    add_block(y, &y->judged, b, b->narrowed);
}

// By group and month; and, if asked for, by unit and group.
static void add_groups(Tally *y, unsigned by, Block *b) {
    const CountData *d = y->d;
    const FieldId f = y->in->by[by];
    const uint16_t *sender = transfers_units(d->t, FIELD_sending_unit) + b->first;
    const uint16_t *month = d->month + b->first, *position = y->position[by];
    const uint32_t months = (uint32_t)d->months;
    uint16_t group[COUNT_BLOCK];
    for (size_t i = 0; i < b->n; i++)
        group[i] = position[count_value(d->t, f, b->first + i)];
    for (size_t i = 0; i < b->n; i++)
        b->cell[i] = group[i] * months + month[i];
    add_block(y, &y->group[by], b, b->outcome);
    if (!y->unit_group[by].records && !y->unit_group[by].sums)
        return;
    for (size_t i = 0; i < b->n; i++) {
        b->cell[i] = d->place[sender[i]] * y->groups[by] + group[i];
        b->narrowed[i] = d->slot[PERIOD_ALL][month[i]] >= 0 ? b->outcome[i] : OUT;
    }
    add_block(y, &y->unit_group[by], b, b->narrowed);
}

static void gather(const Tally *y, const Sheet *s, size_t cell, TallySums *sums, uint64_t *part) {
    if (s->records) {
        const uint32_t *n = s->records[cell];
        sums->total += (uint64_t)n[WITHOUT] + n[WITH];
        sums->unknown += n[UNKNOWN];
        sums->sum += n[WITH];
        sums->squares += n[WITH];
        sums->largest = MAX(sums->largest, n[WITH] > 0);
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
        for (int k = 0; s->records && k < OUTCOMES; k++)
            s->records[all][k] += s->records[at][k];
        for (size_t v = 0; v < y->values; v++)
            s->part[all * y->values + v] += s->part[at * y->values + v];
        if (s->sums)
            gather(y, &(Sheet){NULL, s->sums, NULL}, at, &s->sums[all], NULL);
    }
}

static void find_positions(Tally *y, unsigned b) {
    const FieldId f = y->in->by[b];
    const GArray *codes = y->d->codes[f];
    y->groups[b] = codes->len;
    y->position[b] = g_new0(uint16_t, MAX(y->d->t->units->len, 256));
    for (guint c = 0; c < codes->len; c++)
        y->position[b][g_array_index(codes, uint16_t, c)] = (uint16_t)c;
}

static Tally *open(const CountData *d, const Indicator *in) {
    Tally *y = g_new0(Tally, 1);
    y->d = d;
    y->in = in;
    y->plain = in->measure != MEASURE_RATE && in->measure != MEASURE_HOURS;
    if (in->measure == MEASURE_MIX)
        y->values = field_table[in->field].kind == KIND_UNIT ? d->t->units->len
                                                             : field_table[in->field].codes->n + 1u;
    y->unit = sheet_new(y, d->units->len * (size_t)d->months);
    return y;
}

static void add_records(Tally *y, const Condition *judged) {
    const CountData *d = y->d;
    Block *b = g_new0(Block, 1);
    for (b->first = 0; b->first < d->t->n; b->first += COUNT_BLOCK) {
        b->n = MIN((size_t)COUNT_BLOCK, d->t->n - b->first);
        count_records(d, y->in, b->first, b->n, b->record);
        find_outcomes(y, b);
        add_units(y, b, judged);
        for (unsigned by = 0; by < y->in->n_by; by++)
            if (y->groups[by] > 0)
                add_groups(y, by, b);
    }
    g_free(b);
    add_all(y, &y->unit);
    if (judged)
        add_all(y, &y->judged);
}

Tally *tally_new(const CountData *d, const Indicator *in) {
    Tally *y = open(d, in);
    for (unsigned b = 0; b < in->n_by; b++) {
        find_positions(y, b);
        y->group[b] = sheet_new(y, y->groups[b] * (size_t)d->months);
        y->unit_group[b] = sheet_new(y, (size_t)d->units->len * y->groups[b]);
    }
    add_records(y, NULL);
    return y;
}

Tally *tally_judged(const CountData *d, const Indicator *in, int by) {
    Tally *y = open(d, in);
    Condition *judged = condition_parse(in->compare, NULL); // read once already with the catalogue
    y->judged = sheet_new(y, d->units->len * (size_t)d->months);
    if (by >= 0) {
        find_positions(y, (unsigned)by);
        y->group[by] = sheet_new(y, y->groups[by] * (size_t)d->months);
    }
    add_records(y, judged);
    condition_free(judged);
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
        g_free(y->position[b]);
    }
    g_free(y);
}

size_t tally_values(const Tally *y) {
    return y->values;
}

unsigned tally_group(const Tally *y, unsigned by, uint16_t value) {
    return y->position[by][value];
}

TallySums tally_cell(const Tally *y, TallyCell c, uint64_t *part) {
    TallySums sums = {0};
    const size_t months = (size_t)y->d->months;
    for (size_t v = 0; v < y->values; v++)
        part[v] = 0;
    if (c.by >= 0 && c.place != 0) {
        gather(y, &y->unit_group[c.by], (size_t)c.place * y->groups[c.by] + c.group, &sums, part);
    } else {
        const Sheet *s = c.judged ? &y->judged : c.by < 0 ? &y->unit : &y->group[c.by];
        for (int m = MAX(c.from, 0); m < MIN(c.to, (int)months); m++)
            gather(y, s, (c.by < 0 ? c.place : c.group) * months + (size_t)m, &sums, part);
    }
    for (size_t v = 0; v < y->values; v++)
        sums.total = v == 0 ? part[0] : sums.total + part[v];
    return sums;
}
