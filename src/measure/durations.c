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

// The cell at hand of a list that is dealt out.
typedef struct {
    uint32_t at, last, n; // where its next run goes; the last key; how many it has
} Head;

typedef struct {
    const CountData *d;
    const Indicator *in;
    Item *item;
    size_t n;
    uint16_t *group[CATALOGUE_MOST_BY]; // of each item, its place among the codes of a breakdown
    uint32_t *base;                     // of each item, its cell by place or group and month
    uint32_t *in_base;                  // how many items each of these cells has
    size_t bases;                       // how many of these cells; one more is for nobody's items
    uint32_t *value, *upto;             // runs of minutes, cell after cell; or rows
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
    CountRecord block[COUNT_BLOCK];
    uint8_t condition[COUNT_BLOCK] = {0};
    for (size_t first = 0; first < n; first += COUNT_BLOCK) {
        const size_t some = MIN((size_t)COUNT_BLOCK, n - first);
        count_records(w->d, w->in, first, some, block);
        if (judged)
            condition_fill(w->in->judged, w->d->t, first, some, condition);
        for (size_t i = 0; i < some; i++)
            if (block[i].state == COUNT_IN)
                w->item[w->n++] =
                    (Item){start ? (uint32_t)start[first + i] - (uint32_t)INT32_MIN
                                 : (uint32_t)block[i].minutes,
                           (uint32_t)(first + i), w->d->month[first + i] & 0x7fffu,
                           condition[i] == CONDITION_TRUE, w->d->place[sender[first + i]]};
    }
}

static void find_groups(Deal *w, unsigned by) {
    const FieldId field = w->in->by[by];
    const uint16_t *position = w->d->position[field];
    w->group[by] = g_new(uint16_t, w->n + 1);
    for (size_t i = 0; i < w->n; i++)
        w->group[by][i] = position[count_value(w->d->t, field, w->item[i].row)];
}

static Runs runs_of(const Deal *w, size_t from, size_t to) {
    const Runs runs = {to - from, w->runs, w->runs + (to - from)};
    for (size_t i = from; i < to; i++) {
        w->runs[i - from] = w->value[i];
        w->runs[to - from + i - from] = w->upto[i];
    }
    return runs;
}

static size_t groups_of(const Deal *w, const DurationsFace *f) {
    return f->by < 0 ? 1 : w->d->codes[w->in->by[f->by]]->len;
}

// The cell of each item by place or group and month, alike for all kinds of period.
static void find_base(Deal *w, const DurationsFace *f) {
    const size_t groups = groups_of(w, f), months = (size_t)w->d->months;
    const uint16_t *group = f->by < 0 ? NULL : w->group[f->by];
    w->bases = (f->units ? w->d->units->len : 1) * groups * months;
    g_free(w->in_base);
    w->in_base = g_new0(uint32_t, w->bases + 1);
    for (size_t i = 0; i < w->n; i++) {
        const Item *item = &w->item[i];
        const size_t place = f->units ? item->place : 0, own = group ? group[i] : 0;
        const size_t at = (place * groups + own) * months + item->month;
        w->base[i] = (uint32_t)(f->judged && !item->judged ? w->bases : at);
        w->in_base[w->base[i]]++;
    }
}

// First and number of the periods of a kind, which stand together.
static size_t periods_of(const CountData *d, PeriodKind kind, size_t *first) {
    size_t n = 0;
    *first = 0;
    for (guint p = d->periods->len; p > 0; p--)
        if (g_array_index(d->periods, Period, p - 1).kind == kind) {
            *first = p - 1;
            n++;
        }
    return n;
}

// The cell of each base cell, `cells` for none, and the heads of the cells.
static Head *find_cells(const Deal *w, const DurationsFace *f, size_t first, size_t periods,
                        size_t cells, uint32_t *cell) {
    const size_t months = (size_t)w->d->months;
    Head *head = g_new0(Head, cells + 1);
    for (size_t b = 0; b <= w->bases; b++) {
        const int slot = b == w->bases ? -1 : w->d->slot[f->kind][b % months];
        const size_t at = b / months * periods + (size_t)slot - first;
        cell[b] = (uint32_t)(slot < 0 ? cells : at);
        head[cell[b]].n += w->in_base[b];
    }
    uint32_t at = 0;
    for (size_t c = 0; c <= cells; c++) {
        const uint32_t n = head[c].n;
        head[c] = (Head){at, UINT32_MAX, 0};
        at += n;
    }
    return head;
}

// Items come by key: one that its cell had last goes into the same run.
static void deal_minutes(const Deal *w, const uint32_t *cell, Head *head) {
    for (size_t i = 0; i < w->n; i++) {
        Head *h = &head[cell[w->base[i]]];
        const uint32_t key = w->item[i].key;
        h->at += h->last != key;
        h->last = key;
        w->value[h->at - 1] = key;
        w->upto[h->at - 1] = ++h->n;
    }
}

static void deal_rows(const Deal *w, const uint32_t *cell, Head *head) {
    for (size_t i = 0; i < w->n; i++) {
        Head *h = &head[cell[w->base[i]]];
        w->value[h->at++] = w->item[i].row;
        h->n++;
    }
}

static void deal(const Deal *w, const DurationsFace *f) {
    const bool quantile = w->in->measure == MEASURE_QUANTILE;
    const size_t groups = groups_of(w, f);
    size_t first;
    const size_t periods = periods_of(w->d, f->kind, &first);
    const size_t cells = w->bases / (size_t)w->d->months * periods;
    uint32_t *cell = g_new(uint32_t, w->bases + 1);
    Head *head = find_cells(w, f, first, periods, cells, cell);
    (quantile ? deal_minutes : deal_rows)(w, cell, head);
    size_t from = 0;
    for (size_t c = 0; c < cells; from += head[c++].n) {
        const unsigned place = (unsigned)(c / periods / groups);
        if (f->units && place == 0)
            continue;
        DurationsCell told = {.place = place,
                              .period = (unsigned)(first + c % periods),
                              .by = f->by,
                              .group = (unsigned)(c / periods % groups),
                              .n = head[c].n};
        if (quantile)
            told.minutes = runs_of(w, from, head[c].at);
        else
            told.rows = w->value + from;
        w->each(w->user, &told);
    }
    g_free(head);
    g_free(cell);
}

static bool same_base(const DurationsFace *a, const DurationsFace *b) {
    return a->units == b->units && a->by == b->by && a->judged == b->judged;
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
    w.base = g_new(uint32_t, w.n + 1);
    w.value = g_new(uint32_t, 2 * w.n + 1);
    w.upto = w.value + w.n;
    w.runs = g_new(double, 2 * (different(&w) + 1));
    for (size_t f = 0; f < n; f++) {
        if (faces[f].by >= 0 && !w.group[faces[f].by])
            find_groups(&w, (unsigned)faces[f].by);
        if (f == 0 || !same_base(&faces[f], &faces[f - 1]))
            find_base(&w, &faces[f]);
        deal(&w, &faces[f]);
    }
    for (unsigned b = 0; b < indicator->n_by; b++)
        g_free(w.group[b]);
    g_free(w.item);
    g_free(w.base);
    g_free(w.in_base);
    g_free(w.value);
    g_free(w.runs);
}

void durations_each(const CountData *data, const Indicator *indicator, DurationsEach each,
                    void *user) {
    enum { KINDS = PERIOD_MONTH + 1, MOST = (1 + CATALOGUE_MOST_BY) * 2 * KINDS };
    DurationsFace faces[MOST];
    size_t n = 0;
    for (int by = -1; by < (int)indicator->n_by; by++) {
        for (PeriodKind kind = PERIOD_ALL; kind <= PERIOD_MONTH; kind++)
            faces[n++] = (DurationsFace){false, by, kind, false};
        for (PeriodKind kind = PERIOD_ALL; kind < (by < 0 ? PERIOD_MONTH : PERIOD_ALL + 1); kind++)
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
