// SPDX-License-Identifier: GPL-3.0-or-later
// One pass over the records adds each to its cells at the grain of months; larger cells are sums of
// those.
#include "measure/tally.h"

// Cells of one kind, and of a mix their counts by value: values to a cell.
typedef struct {
    TallySums *sums;
    uint32_t *part;
} Sheet;

struct Tally {
    const CountData *d;
    const Indicator *in;
    size_t values;                         // of a mix, 0 otherwise
    Sheet unit;                            // [place][month]; place 0 holds all
    Sheet group[CATALOGUE_MOST_BY];        // [group][month]
    Sheet unit_group[CATALOGUE_MOST_BY];   // [place][group], over the months of `all`
    unsigned groups[CATALOGUE_MOST_BY];    // number of groups
    uint16_t *position[CATALOGUE_MOST_BY]; // of each value of the field
};

static Sheet sheet_new(const Tally *y, size_t cells) {
    return (Sheet){g_new0(TallySums, cells),
                   y->values ? g_new0(uint32_t, cells * y->values) : NULL};
}

static void sheet_free(Sheet *s) {
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

static void add(const Tally *y, Sheet *s, size_t cell, size_t row, const CountRecord *r, double k) {
    TallySums *sums = &s->sums[cell];
    if (r->state != COUNT_IN) {
        sums->unknown++;
        return;
    }
    sums->total++;
    sums->sum += k;
    sums->squares += k * k;
    sums->largest = MAX(sums->largest, k);
    sums->exposure += r->exposure;
    if (y->values)
        add_parts(y, s, cell, row);
}

// The number that a record adds.
static double number(const Indicator *in, const CountRecord *r) {
    switch (in->measure) {
    case MEASURE_SHARE:
    case MEASURE_RATE:
        return r->events;
    case MEASURE_HOURS:
        return r->minutes;
    default:
        return 0;
    }
}

static void add_block(Tally *y, size_t first, size_t n, const CountRecord *r) {
    const CountData *d = y->d;
    const uint16_t *sender = transfers_units(d->t, FIELD_sending_unit);
    const size_t months = (size_t)d->months;
    for (size_t i = 0; i < n; i++) {
        if (r[i].state == COUNT_OUT)
            continue;
        const size_t row = first + i, month = d->month[row], place = d->place[sender[row]];
        const double k = r[i].state == COUNT_IN ? number(y->in, &r[i]) : 0;
        add(y, &y->unit, place * months + month, row, &r[i], k);
        for (unsigned b = 0; b < y->in->n_by; b++) {
            g_assert(y->position[b] != NULL);
            const size_t g = y->position[b][count_value(d->t, y->in->by[b], row)];
            add(y, &y->group[b], g * months + month, row, &r[i], k);
            if (d->slot[PERIOD_ALL][month] >= 0)
                add(y, &y->unit_group[b], place * y->groups[b] + g, row, &r[i], k);
        }
    }
}

static void gather(const Tally *y, const Sheet *s, size_t cell, TallySums *sums, uint64_t *part) {
    const TallySums *own = &s->sums[cell];
    sums->total += own->total;
    sums->unknown += own->unknown;
    sums->sum += own->sum;
    sums->squares += own->squares;
    sums->largest = MAX(sums->largest, own->largest);
    sums->exposure += own->exposure;
    for (size_t v = 0; v < y->values; v++)
        part[v] += s->part[cell * y->values + v];
}

// The row of all units.
static void add_all(Tally *y) {
    const size_t months = (size_t)y->d->months;
    uint64_t *part = g_new(uint64_t, y->values + 1);
    for (size_t m = 0; m < months; m++) {
        TallySums sums = {0};
        for (size_t v = 0; v < y->values; v++)
            part[v] = 0;
        for (size_t u = 1; u < y->d->units->len; u++)
            gather(y, &y->unit, u * months + m, &sums, part);
        y->unit.sums[m] = sums;
        for (size_t v = 0; v < y->values; v++)
            y->unit.part[m * y->values + v] = (uint32_t)part[v];
    }
    g_free(part);
}

static void find_positions(Tally *y, unsigned b) {
    const FieldId f = y->in->by[b];
    const GArray *codes = y->d->codes[f];
    y->groups[b] = codes->len;
    y->position[b] = g_new0(uint16_t, MAX(y->d->t->units->len, 256));
    for (guint c = 0; c < codes->len; c++)
        y->position[b][g_array_index(codes, uint16_t, c)] = (uint16_t)c;
}

Tally *tally_new(const CountData *d, const Indicator *in) {
    Tally *y = g_new0(Tally, 1);
    const size_t months = (size_t)d->months;
    y->d = d;
    y->in = in;
    if (in->measure == MEASURE_MIX)
        y->values = field_table[in->field].kind == KIND_UNIT ? d->t->units->len
                                                             : field_table[in->field].codes->n + 1u;
    y->unit = sheet_new(y, d->units->len * months);
    for (unsigned b = 0; b < in->n_by; b++) {
        find_positions(y, b);
        y->group[b] = sheet_new(y, y->groups[b] * months + 1);
        y->unit_group[b] = sheet_new(y, (size_t)d->units->len * y->groups[b] + 1);
    }
    CountRecord *block = g_new0(CountRecord, COUNT_BLOCK);
    for (size_t first = 0; first < d->t->n; first += COUNT_BLOCK) {
        const size_t n = MIN((size_t)COUNT_BLOCK, d->t->n - first);
        count_records(d, in, first, n, block);
        add_block(y, first, n, block);
    }
    g_free(block);
    add_all(y);
    return y;
}

void tally_free(Tally *y) {
    sheet_free(&y->unit);
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
        const Sheet *s = c.by < 0 ? &y->unit : &y->group[c.by];
        for (int m = MAX(c.from, 0); m < MIN(c.to, (int)months); m++)
            gather(y, s, (c.by < 0 ? c.place : c.group) * months + (size_t)m, &sums, part);
    }
    for (size_t v = 0; v < y->values; v++)
        sums.total = v == 0 ? part[0] : sums.total + part[v];
    return sums;
}
