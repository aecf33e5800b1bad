// SPDX-License-Identifier: GPL-3.0-or-later
// Durations are sorted once for the whole network, then dealt out to cells, which so get them
// sorted.
#include "measure/durations.h"

#include <string.h>

typedef struct {
    uint32_t key, row; // minutes, or of an overlap the start, from the least of its type on
    uint16_t month : 15, judged : 1; // of the record
    uint16_t place;
} Item;

typedef struct {
    const CountData *d;
    const Indicator *in;
    Item *item;
    size_t n;
    uint16_t *group[CATALOGUE_MOST_BY]; // of each item, its place among the codes of a breakdown
    uint32_t *cell;                     // of each item, in the face at hand
    uint32_t *dealt;                    // minutes or rows, cell after cell
    double *runs;                       // room for the runs of a cell
    DurationsEach each;
    void *user;
} Deal;

static uint32_t key_of(const Item *item) {
    return item->key;
}

static uint32_t unit_of(const Item *item) {
    return item->place;
}

// Sorts by what `of` tells, keeping the order of equal ones, 11 bits a pass; other: room for as
// many.
static void sort_items(Item *item, size_t n, Item *other, uint32_t (*of)(const Item *)) {
    enum { BITS = 11, BUCKETS = 1 << BITS };
    uint32_t most = 0;
    for (size_t i = 0; i < n; i++)
        most = MAX(most, of(&item[i]));
    Item *from = item, *to = other;
    for (int shift = 0; shift < 32 && most >> shift > 0; shift += BITS) {
        size_t start[BUCKETS + 1] = {0};
        for (size_t i = 0; i < n; i++)
            start[(of(&from[i]) >> shift) % BUCKETS + 1]++;
        for (int b = 0; b < BUCKETS; b++)
            start[b + 1] += start[b];
        for (size_t i = 0; i < n; i++)
            to[start[(of(&from[i]) >> shift) % BUCKETS]++] = from[i];
        Item *swap = from;
        from = to;
        to = swap;
    }
    if (from != item)
        memcpy(item, from, n * sizeof *item);
}

// By minutes; for an overlap by sending unit and start.
static void sort(Deal *w) {
    Item *other = g_new(Item, w->n + 1);
    sort_items(w->item, w->n, other, key_of);
    if (w->in->measure == MEASURE_OVERLAP)
        sort_items(w->item, w->n, other, unit_of);
    g_free(other);
}

// How many different durations there are.
static size_t different(const Deal *w) {
    size_t k = 0;
    for (size_t i = 0; i < w->n; i++)
        k += i == 0 || w->item[i].key != w->item[i - 1].key;
    return k;
}

static void collect(Deal *w, bool judged) {
    const size_t n = w->d->t->n;
    const uint16_t *sender = transfers_units(w->d->t, FIELD_sending_unit);
    const int32_t *start =
        w->in->measure == MEASURE_OVERLAP ? transfers_times(w->d->t, w->in->from) : NULL;
    Condition *narrow = judged ? condition_parse(w->in->compare, NULL) : NULL;
    CountRecord block[COUNT_BLOCK];
    uint8_t condition[COUNT_BLOCK] = {0};
    for (size_t first = 0; first < n; first += COUNT_BLOCK) {
        const size_t some = MIN((size_t)COUNT_BLOCK, n - first);
        count_records(w->d, w->in, first, some, block);
        if (narrow)
            condition_fill(narrow, w->d->t, first, some, condition);
        for (size_t i = 0; i < some; i++)
            if (block[i].state == COUNT_IN)
                w->item[w->n++] =
                    (Item){start ? (uint32_t)start[first + i] - (uint32_t)INT32_MIN
                                 : (uint32_t)block[i].minutes,
                           (uint32_t)(first + i), w->d->month[first + i] & 0x7fffu,
                           condition[i] == CONDITION_TRUE, w->d->place[sender[first + i]]};
    }
    if (narrow)
        condition_free(narrow);
}

static void find_groups(Deal *w, unsigned by) {
    const FieldId field = w->in->by[by];
    const GArray *codes = w->d->codes[field];
    uint16_t *position = g_new0(uint16_t, MAX(w->d->t->units->len, 256));
    for (guint g = 0; g < codes->len; g++)
        position[g_array_index(codes, uint16_t, g)] = (uint16_t)g;
    w->group[by] = g_new(uint16_t, w->n + 1);
    for (size_t i = 0; i < w->n; i++)
        w->group[by][i] = position[count_value(w->d->t, field, w->item[i].row)];
    g_free(position);
}

static void tell(const Deal *w, const DurationsFace *f, unsigned place, unsigned group,
                 unsigned period, size_t from, size_t to) {
    DurationsCell cell = {place, period, f->by, group, to - from, {0, NULL, NULL}, NULL};
    if (w->in->measure == MEASURE_QUANTILE)
        cell.minutes = runs_of_whole(w->dealt + from, cell.n, w->runs);
    else
        cell.rows = w->dealt + from;
    w->each(w->user, &cell);
}

// The cell of each item, `cells` for none; returns where each cell starts.
static size_t *find_cells(const Deal *w, const DurationsFace *f, size_t groups, size_t cells,
                          uint32_t *cell) {
    const CountData *d = w->d;
    size_t *start = g_new0(size_t, cells + 2);
    for (size_t i = 0; i < w->n; i++) {
        const Item *item = &w->item[i];
        const int slot = d->slot[f->kind][item->month];
        const size_t place = f->units ? item->place : 0;
        const size_t group = f->by < 0 ? 0 : w->group[f->by][i];
        const size_t at = (place * groups + group) * d->periods->len;
        const bool out = slot < 0 || (f->judged && !item->judged);
        cell[i] = (uint32_t)(out ? cells : at + (size_t)slot);
        start[cell[i] + 1]++;
    }
    for (size_t c = 0; c < cells; c++)
        start[c + 1] += start[c];
    return start;
}

static void deal(const Deal *w, const DurationsFace *f) {
    const CountData *d = w->d;
    const size_t units = f->units ? d->units->len : 1, periods = d->periods->len;
    const size_t groups = f->by < 0 ? 1 : d->codes[w->in->by[f->by]]->len;
    const size_t cells = units * groups * periods;
    uint32_t *const cell = w->cell;
    size_t *start = find_cells(w, f, groups, cells, cell);
    for (size_t i = 0; i < w->n; i++) { // afterwards start[c] is where cell c ends
        if (cell[i] == cells)
            continue;
        const bool quantile = w->in->measure == MEASURE_QUANTILE;
        w->dealt[start[cell[i]]++] = quantile ? w->item[i].key : w->item[i].row;
    }
    for (size_t c = 0; c < cells; c++) {
        const unsigned period = (unsigned)(c % periods), place = (unsigned)(c / periods / groups);
        if (g_array_index(d->periods, Period, period).kind == f->kind && (place > 0 || !f->units))
            tell(w, f, place, (unsigned)(c / periods % groups), period, c == 0 ? 0 : start[c - 1],
                 start[c]);
    }
    g_free(start);
}

void durations_deal(const CountData *data, const Indicator *indicator, const DurationsFace *faces,
                    size_t n, DurationsEach each, void *user) {
    Deal w = {.d = data,
              .in = indicator,
              .item = g_new(Item, data->t->n + 1),
              .each = each,
              .user = user};
    bool judged = false;
    for (size_t f = 0; f < n; f++)
        judged = judged || faces[f].judged;
    collect(&w, judged);
    sort(&w);
    w.cell = g_new(uint32_t, w.n + 1);
    w.dealt = g_new(uint32_t, w.n + 1);
    w.runs = g_new(double, 2 * (different(&w) + 1));
    for (size_t f = 0; f < n; f++) {
        if (faces[f].by >= 0 && !w.group[faces[f].by])
            find_groups(&w, (unsigned)faces[f].by);
        deal(&w, &faces[f]);
    }
    for (unsigned b = 0; b < indicator->n_by; b++)
        g_free(w.group[b]);
    g_free(w.item);
    g_free(w.cell);
    g_free(w.dealt);
    g_free(w.runs);
}

void durations_each(const CountData *data, const Indicator *indicator, DurationsEach each,
                    void *user) {
    enum { KINDS = PERIOD_MONTH + 1, MOST = (1 + CATALOGUE_MOST_BY) * 2 * KINDS };
    DurationsFace faces[MOST];
    size_t n = 0;
    for (int by = -1; by < (int)indicator->n_by; by++)
        for (PeriodKind kind = PERIOD_ALL; kind <= PERIOD_MONTH; kind++) {
            faces[n++] = (DurationsFace){false, by, kind, false};
            if (by < 0 ? kind != PERIOD_MONTH : kind == PERIOD_ALL)
                faces[n++] = (DurationsFace){true, by, kind, false};
        }
    durations_deal(data, indicator, faces, n, each, user);
}

Runs durations_keep(Runs runs, double **room) {
    *room = g_new(double, 2 * runs.k + 1);
    if (runs.k > 0) {
        memcpy(*room, runs.value, runs.k * sizeof **room);
        memcpy(*room + runs.k, runs.upto, runs.k * sizeof **room);
    }
    return (Runs){runs.k, *room, *room + runs.k};
}
