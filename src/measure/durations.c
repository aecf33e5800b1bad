// SPDX-License-Identifier: GPL-3.0-or-later
// Durations are sorted once for the whole network, then dealt out to cells, which so get them
// sorted.
#include "measure/durations.h"

#include <string.h>

typedef struct {
    uint32_t minutes, row;
    uint16_t month, place; // of the record
} Item;

typedef struct {
    const CountData *d;
    const Indicator *in;
    Item *item;
    size_t n;
    uint16_t *group[CATALOGUE_MOST_BY]; // of each item, its place among the codes of a breakdown
    uint32_t *cell;                     // of each item, in the face at hand
    void *dealt;                        // double minutes or uint32_t rows, cell after cell
    void (*each)(void *, const DurationsCell *);
    void *user;
} Deal;

// Which cells records are dealt to: of each unit or of all, of a breakdown or of none, for one kind
// of period.
typedef struct {
    bool units;
    int by;
    PeriodKind kind;
} Face;

// Sorts by minutes, keeping the order of equal ones, 11 bits a pass; other: room for as many.
static void sort_items(Item *item, size_t n, Item *other) {
    enum { BITS = 11, BUCKETS = 1 << BITS };
    uint32_t most = 0;
    for (size_t i = 0; i < n; i++)
        most = MAX(most, item[i].minutes);
    Item *from = item, *to = other;
    for (int shift = 0; shift < 32 && most >> shift > 0; shift += BITS) {
        size_t start[BUCKETS + 1] = {0};
        for (size_t i = 0; i < n; i++)
            start[(from[i].minutes >> shift) % BUCKETS + 1]++;
        for (int b = 0; b < BUCKETS; b++)
            start[b + 1] += start[b];
        for (size_t i = 0; i < n; i++)
            to[start[(from[i].minutes >> shift) % BUCKETS]++] = from[i];
        Item *swap = from;
        from = to;
        to = swap;
    }
    if (from != item)
        memcpy(item, from, n * sizeof *item);
}

static void collect(Deal *w) {
    const size_t n = w->d->t->n;
    const uint16_t *sender = transfers_units(w->d->t, FIELD_sending_unit);
    CountRecord *block = g_new0(CountRecord, COUNT_BLOCK);
    for (size_t first = 0; first < n; first += COUNT_BLOCK) {
        const size_t some = MIN((size_t)COUNT_BLOCK, n - first);
        count_records(w->d, w->in, first, some, block);
        for (size_t i = 0; i < some; i++)
            if (block[i].state == COUNT_IN)
                w->item[w->n++] = (Item){(uint32_t)block[i].minutes, (uint32_t)(first + i),
                                         w->d->month[first + i], w->d->place[sender[first + i]]};
    }
    g_free(block);
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

static void tell(const Deal *w, const Face *f, unsigned place, unsigned group, unsigned period,
                 size_t from, size_t to) {
    DurationsCell cell = {place, period, f->by, group, to - from, NULL, NULL};
    if (w->in->measure == MEASURE_QUANTILE)
        cell.minutes = (const double *)w->dealt + from;
    else
        cell.rows = (const uint32_t *)w->dealt + from;
    w->each(w->user, &cell);
}

// The cell of each item, `cells` for none; returns where each cell starts.
static size_t *find_cells(const Deal *w, const Face *f, size_t groups, size_t cells,
                          uint32_t *cell) {
    const CountData *d = w->d;
    size_t *start = g_new0(size_t, cells + 2);
    for (size_t i = 0; i < w->n; i++) {
        const Item *item = &w->item[i];
        const int slot = d->slot[f->kind][item->month];
        const size_t place = f->units ? item->place : 0;
        const size_t group = f->by < 0 ? 0 : w->group[f->by][i];
        const size_t at = (place * groups + group) * d->periods->len;
        cell[i] = (uint32_t)(slot < 0 ? cells : at + (size_t)slot);
        start[cell[i] + 1]++;
    }
    for (size_t c = 0; c < cells; c++)
        start[c + 1] += start[c];
    return start;
}

static void deal(const Deal *w, const Face *f) {
    const CountData *d = w->d;
    const size_t units = f->units ? d->units->len : 1, periods = d->periods->len;
    const size_t groups = f->by < 0 ? 1 : d->codes[w->in->by[f->by]]->len;
    const size_t cells = units * groups * periods;
    uint32_t *const cell = w->cell;
    size_t *start = find_cells(w, f, groups, cells, cell);
    for (size_t i = 0; i < w->n; i++) { // afterwards start[c] is where cell c ends
        if (cell[i] == cells)
            continue;
        const size_t at = start[cell[i]]++;
        if (w->in->measure == MEASURE_QUANTILE)
            ((double *)w->dealt)[at] = w->item[i].minutes;
        else
            ((uint32_t *)w->dealt)[at] = w->item[i].row;
    }
    for (size_t c = 0; c < cells; c++) {
        const unsigned period = (unsigned)(c % periods), place = (unsigned)(c / periods / groups);
        if (g_array_index(d->periods, Period, period).kind == f->kind && (place > 0 || !f->units))
            tell(w, f, place, (unsigned)(c / periods % groups), period, c == 0 ? 0 : start[c - 1],
                 start[c]);
    }
    g_free(start);
}

void durations_each(const CountData *data, const Indicator *indicator,
                    void (*each)(void *user, const DurationsCell *cell), void *user) {
    Deal w = {.d = data,
              .in = indicator,
              .item = g_new(Item, data->t->n + 1),
              .each = each,
              .user = user};
    collect(&w);
    Item *other = g_new(Item, w.n + 1);
    if (indicator->measure == MEASURE_QUANTILE)
        sort_items(w.item, w.n, other);
    w.cell = g_new(uint32_t, w.n + 1);
    w.dealt = other; // big enough for a double or a row number each
    for (PeriodKind kind = PERIOD_ALL; kind <= PERIOD_MONTH; kind++) {
        deal(&w, &(Face){false, -1, kind});
        if (kind != PERIOD_MONTH)
            deal(&w, &(Face){true, -1, kind});
    }
    for (unsigned b = 0; b < indicator->n_by; b++) {
        find_groups(&w, b);
        for (PeriodKind kind = PERIOD_ALL; kind <= PERIOD_MONTH; kind++)
            deal(&w, &(Face){false, (int)b, kind});
        deal(&w, &(Face){true, (int)b, PERIOD_ALL});
        g_free(w.group[b]);
    }
    g_free(w.item);
    g_free(w.cell);
    g_free(other);
}
