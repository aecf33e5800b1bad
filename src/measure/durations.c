// SPDX-License-Identifier: GPL-3.0-or-later
// Durations are sorted once for the whole network, then dealt out to cells, which so get them
// sorted.
#include "measure/durations.h"

#include <string.h>

// As small as can be: two lists of them are the most that a run needs for each record.
typedef struct {
    uint32_t key; // minutes, or of an overlap the start, from the least of its type on
    uint32_t row; // the record
} Item;

// The cell at hand of a list that is dealt out.
typedef struct {
    uint32_t at, last, n; // where its next run goes; the last key; how many it has
} Head;

typedef struct {
    const CountData *d;
    const Indicator *in;
    Item *item, *other; // the items, and what sorting needs
    size_t n;
    uint8_t *judged;   // a bit a record, whether it is; NULL where nobody asks
    uint8_t *open[2];  // a bit a record, whether its duration is not known: of all, of those judged
    uint16_t *base;    // of each item, the lower half of its cell by place, group and month,
    uint16_t *upper;   // and the upper half; NULL where all are 0
    uint32_t *in_base; // how many items each of these cells has
    size_t bases;      // how many of these cells; one more is for nobody's items
    size_t keys;       // different ones
    uint32_t *value, *upto; // runs of minutes, cell after cell; or rows
    double *runs;           // room for the runs of a cell
    DurationsEach each;
    void *user;
    const DurationsAsked *asked; // instead of those two
} Deal;

// The cells of a face.
typedef struct {
    const DurationsFace *face;
    size_t first, periods; // first period of its kind, and how many
    size_t groups, n;      // n: cells
    uint32_t *cell;        // of each of the base cells; n for none
    uint32_t *size;        // items of each cell
    uint32_t *open;        // records of each cell whose duration is not known; NULL: not asked
} Cells;

static uint32_t key_of(const Deal *w, const Item *item) {
    (void)w;
    return item->key;
}

static uint32_t place_of(const Deal *w, const Item *item) {
    return w->d->place[transfers_units(w->d->t, FIELD_sending_unit)[item->row]];
}

// Sorts by what `of` tells, keeping the order of equal ones: 11 bits a pass, or so many more (up to
// 13) as there are items to go into the buckets. The two lists may have changed places then.
static void sort_by(Deal *w, uint32_t (*of)(const Deal *, const Item *)) {
    uint32_t most = 0;
    int bits = 11;
    for (size_t i = 0; i < w->n; i++)
        most = MAX(most, of(w, &w->item[i]));
    while (bits < 13 && most >> bits > 0 && w->n >> bits > 0)
        bits++;
    const uint32_t buckets = 1u << bits;
    uint32_t *start = g_new(uint32_t, buckets + 1);
    for (int shift = 0; shift < 32 && most >> shift > 0; shift += bits) {
        Item *from = w->item, *to = w->other;
        memset(start, 0, (buckets + 1) * sizeof *start);
        for (size_t i = 0; i < w->n; i++)
            start[(of(w, &from[i]) >> shift) % buckets + 1]++;
        for (uint32_t b = 0; b < buckets; b++)
            start[b + 1] += start[b];
        for (size_t i = 0; i < w->n; i++)
            to[start[(of(w, &from[i]) >> shift) % buckets]++] = from[i];
        w->item = to;
        w->other = from;
    }
    g_free(start);
}

// By minutes; for an overlap by sending unit and start.
static void sort(Deal *w) {
    sort_by(w, key_of);
    if (w->in->measure == MEASURE_OVERLAP)
        sort_by(w, place_of);
}

// How many different durations there are.
static size_t different(const Deal *w) {
    size_t k = 0;
    for (size_t i = 0; i < w->n; i++)
        k += i == 0 || w->item[i].key != w->item[i - 1].key;
    return k;
}

static void collect_judged(Deal *w, size_t first, size_t n, uint8_t *is) {
    condition_fill(w->in->judged, w->d->t, first, n, is);
    for (size_t i = 0; i < n; i++)
        w->judged[(first + i) / 8] |= (uint8_t)((is[i] == CONDITION_TRUE) << (first + i) % 8);
}

static bool is_judged(const Deal *w, uint32_t row) {
    return w->judged[row / 8] >> row % 8 & 1;
}

static void collect_open(Deal *w, size_t first, size_t n, const uint8_t *state, const uint8_t *is) {
    for (size_t i = 0; i < n; i++) {
        const size_t row = first + i;
        const bool judged = w->judged && count_narrowed(state[i], is[i]) == COUNT_UNKNOWN;
        w->open[0][row / 8] |= (uint8_t)((state[i] == COUNT_UNKNOWN) << row % 8);
        w->open[1][row / 8] |= (uint8_t)(judged << row % 8);
    }
}

// The items of a block of records that have one.
static void collect_block(Deal *w, size_t first, size_t n) {
    const CountData *d = w->d;
    const Indicator *in = w->in;
    const bool overlap = in->measure == MEASURE_OVERLAP;
    const int32_t *from = transfers_times(d->t, in->from) + first,
                  *to = transfers_times(d->t, in->to) + first;
    uint8_t among[COUNT_BLOCK] = {0}, state[COUNT_BLOCK] = {0}, is[COUNT_BLOCK] = {0};
    condition_fill(in->among, d->t, first, n, among);
    count_states(d, in, first, n, among, NULL, state);
    if (w->judged)
        collect_judged(w, first, n, is);
    if (w->open[0])
        collect_open(w, first, n, state, is);
    for (size_t i = 0; i < n; i++)
        if (state[i] == COUNT_IN)
            w->item[w->n++] = (Item){.key = overlap ? (uint32_t)from[i] - (uint32_t)INT32_MIN
                                                    : (uint32_t)(to[i] - from[i]),
                                     .row = (uint32_t)(first + i)};
}

// Room for an item of each record.
static Item *room_of_all(const CountData *d) {
    Item *room = g_async_queue_try_pop(d->rooms);
    return room ? room : g_new(Item, d->t->n + 1);
}

static void collect(Deal *w, bool judged) {
    const size_t n = w->d->t->n;
    w->item = room_of_all(w->d);
    w->other = room_of_all(w->d);
    w->judged = judged ? g_new0(uint8_t, n / 8 + 1) : NULL;
    for (size_t k = 0; k < G_N_ELEMENTS(w->open) && !w->asked; k++)
        w->open[k] = g_new0(uint8_t, n / 8 + 1);
    for (size_t first = 0; first < n; first += COUNT_BLOCK)
        collect_block(w, first, MIN((size_t)COUNT_BLOCK, n - first));
}

static FieldId field_of(const Deal *w, int by) {
    return by == DURATIONS_BY_URGENCY ? FIELD_urgency : w->in->by[by];
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
    return f->by < 0 ? 1 : w->d->codes[field_of(w, f->by)]->len;
}

static uint32_t base_of(const Deal *w, size_t i) {
    return w->base[i] | (w->upper ? (uint32_t)w->upper[i] << 16 : 0);
}

static void set_base(const Deal *w, size_t i, uint32_t base) {
    w->base[i] = (uint16_t)base;
    if (w->upper)
        w->upper[i] = (uint16_t)(base >> 16);
    w->in_base[base]++;
}

// The cell of a record by place, group and month.
static size_t base_at(const Deal *w, const DurationsFace *f, uint32_t row) {
    const CountData *d = w->d;
    const FieldId field = f->by < 0 ? FIELD_COUNT : field_of(w, f->by);
    const size_t group = f->by < 0 ? 0 : d->position[field][count_value(d->t, field, row)];
    const size_t place = d->place[transfers_units(d->t, FIELD_sending_unit)[row]];
    return (place * groups_of(w, f) + group) * (size_t)d->months + d->month[row];
}

// The cell of each item by place, group and month, alike for all kinds of period, for units and
// all.
static void find_base(Deal *w, const DurationsFace *f) {
    const CountData *d = w->d;
    const uint16_t *sender = transfers_units(d->t, FIELD_sending_unit);
    const FieldId field = f->by < 0 ? FIELD_COUNT : field_of(w, f->by);
    const size_t groups = groups_of(w, f), months = (size_t)d->months;
    w->bases = d->units->len * groups * months;
    g_free(w->in_base);
    w->in_base = g_new0(uint32_t, w->bases + 1);
    g_free(w->upper);
    w->upper = w->bases > UINT16_MAX ? g_new(uint16_t, w->n + 1) : NULL;
    for (size_t i = 0; i < w->n; i++) {
        const uint32_t row = w->item[i].row;
        const size_t group = f->by < 0 ? 0 : d->position[field][count_value(d->t, field, row)];
        const size_t at = (d->place[sender[row]] * groups + group) * months + d->month[row];
        set_base(w, i, (uint32_t)(f->judged && !is_judged(w, row) ? w->bases : at));
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

static Cells cells_new(const Deal *w, const DurationsFace *f) {
    const size_t months = (size_t)w->d->months;
    Cells k = {.face = f, .groups = groups_of(w, f)};
    k.periods = periods_of(w->d, f->kind, &k.first);
    k.n = (f->units ? w->d->units->len : 1) * k.groups * k.periods;
    k.cell = g_new(uint32_t, w->bases + 1);
    k.size = g_new0(uint32_t, k.n + 1);
    for (size_t b = 0; b < w->bases; b++) {
        const int slot = w->d->slot[f->kind][b % months];
        const size_t own = f->units ? b / months : b / months % k.groups;
        const size_t at = own * k.periods + (size_t)slot - k.first;
        k.cell[b] = (uint32_t)(slot < 0 ? k.n : at);
        k.size[k.cell[b]] += w->in_base[b];
    }
    k.cell[w->bases] = (uint32_t)k.n; // nobody's items
    k.size[k.n] += w->in_base[w->bases];
    k.open = w->asked ? NULL : g_new0(uint32_t, k.n + 1);
    for (size_t i = 0; k.open && i <= w->d->t->n / 8; i++)
        for (unsigned left = w->open[f->judged][i]; left > 0; left &= left - 1)
            k.open[k.cell[base_at(w, f, (uint32_t)(8 * i) + (uint32_t)__builtin_ctz(left))]]++;
    return k;
}

static void cells_clear(Cells *k) {
    g_free(k->cell);
    g_free(k->size);
    g_free(k->open);
}

// Whether a cell is told of: with units, place 0 is nobody's. *told: all but its items.
static bool is_told(const Cells *k, size_t c, DurationsCell *told) {
    *told = (DurationsCell){.place = (unsigned)(c / k->periods / k->groups),
                            .period = (unsigned)(k->first + c % k->periods),
                            .by = k->face->by,
                            .group = (unsigned)(c / k->periods % k->groups),
                            .n = k->size[c],
                            .unknown = k->open ? k->open[c] : 0};
    return !k->face->units || told->place > 0;
}

// Room that a cell takes in value and upto.
static uint32_t room_of(const Deal *w, const Cells *k, size_t c) {
    return w->in->measure == MEASURE_OVERLAP ? k->size[c] : (uint32_t)MIN(k->size[c], w->keys);
}

static Head *heads_of(Deal *w, const Cells *k) {
    Head *head = g_new(Head, k->n + 1);
    uint32_t at = 0;
    for (size_t c = 0; c <= k->n; c++) {
        head[c] = (Head){at, UINT32_MAX, 0};
        at += room_of(w, k, c);
    }
    w->value = g_new(uint32_t, 2 * (size_t)at + 1);
    w->upto = w->value + at;
    return head;
}

// Items come by key: one that its cell had last goes into the same run.
static void deal_minutes(const Deal *w, const uint32_t *cell, Head *head) {
    for (size_t i = 0; i < w->n; i++) {
        Head *h = &head[cell[base_of(w, i)]];
        const uint32_t key = w->item[i].key;
        h->at += h->last != key;
        h->last = key;
        w->value[h->at - 1] = key;
        w->upto[h->at - 1] = ++h->n;
    }
}

static void deal_rows(const Deal *w, const uint32_t *cell, Head *head) {
    for (size_t i = 0; i < w->n; i++) {
        Head *h = &head[cell[base_of(w, i)]];
        w->value[h->at++] = w->item[i].row;
        h->n++;
    }
}

static void deal(Deal *w, const Cells *k) {
    const bool quantile = w->in->measure == MEASURE_QUANTILE;
    Head *head = heads_of(w, k);
    (quantile ? deal_minutes : deal_rows)(w, k->cell, head);
    size_t from = 0;
    for (size_t c = 0; c < k->n; from += room_of(w, k, c++)) {
        DurationsCell told;
        if (!is_told(k, c, &told))
            continue;
        if (quantile)
            told.minutes = runs_of(w, from, head[c].at);
        else
            told.rows = w->value + from;
        w->each(w->user, &told);
    }
    g_free(head);
    g_free(w->value);
}

// ---- durations at ranks ----

// A rank asked for, and where its duration goes.
typedef struct {
    uint32_t rank, to;
} Wanted;

// The ranks of a cell in order, and after them one that no item has.
static void ask(const DurationsAsked *asked, size_t n, size_t to, Wanted *wanted) {
    size_t rank[DURATIONS_RANKS] = {0}, k = 0;
    if (n > 0)
        asked->ask(asked->user, n, rank);
    for (size_t i = 0; i < DURATIONS_RANKS; i++) {
        if (rank[i] == 0)
            continue;
        size_t at = k++;
        for (; at > 0 && wanted[at - 1].rank > rank[i]; at--)
            wanted[at] = wanted[at - 1];
        wanted[at] = (Wanted){(uint32_t)rank[i], (uint32_t)(to + i)};
    }
    wanted[k] = (Wanted){UINT32_MAX, 0};
}

static void deal_at(Deal *w, const Cells *k) {
    Wanted *wanted = g_new(Wanted, (k->n + 1) * (DURATIONS_RANKS + 1));
    const Wanted **next = g_new(const Wanted *, k->n + 1);
    uint32_t *left = g_new(uint32_t, k->n + 1); // items until the rank that a cell wants next
    uint32_t *minutes = g_new0(uint32_t, k->n * DURATIONS_RANKS + 1);
    for (size_t c = 0; c <= k->n; c++) {
        Wanted *own = wanted + c * (DURATIONS_RANKS + 1);
        ask(w->asked, c < k->n ? k->size[c] : 0, c * DURATIONS_RANKS, own);
        next[c] = own;
        left[c] = own->rank;
    }
    for (size_t i = 0; i < w->n; i++) {
        const uint32_t c = k->cell[base_of(w, i)];
        if (--left[c] > 0)
            continue;
        const uint32_t rank = next[c]->rank;
        for (; next[c]->rank == rank; next[c]++)
            minutes[next[c]->to] = w->item[i].key;
        left[c] = next[c]->rank - rank;
    }
    for (size_t c = 0; c < k->n; c++) {
        DurationsCell told;
        if (is_told(k, c, &told))
            w->asked->tell(w->asked->user, &told, minutes + c * DURATIONS_RANKS);
    }
    g_free(wanted);
    g_free(next);
    g_free(left);
    g_free(minutes);
}

// ---- all of it ----

static bool same_base(const DurationsFace *a, const DurationsFace *b) {
    return a->by == b->by && a->judged == b->judged;
}

// Items in order, and all that is told of their records.
static void gather(Deal *w, const DurationsFace *faces, size_t n) {
    bool judged = false;
    for (size_t f = 0; f < n; f++)
        judged = judged || faces[f].judged;
    collect(w, judged);
    sort(w);
    w->keys = different(w);
    if (w->in->measure != MEASURE_OVERLAP && !w->asked)
        w->runs = g_new(double, 2 * (w->keys + 1));
    if (!w->asked) // the runs need room
        g_clear_pointer(&w->other, g_free);
    w->base = g_new(uint16_t, w->n + 1);
}

static void deal_faces(Deal *w, const DurationsFace *faces, size_t n) {
    gather(w, faces, n);
    for (size_t f = 0; f < n; f++) {
        if (f == 0 || !same_base(&faces[f], &faces[f - 1]))
            find_base(w, &faces[f]);
        Cells k = cells_new(w, &faces[f]);
        (w->asked ? deal_at : deal)(w, &k);
        cells_clear(&k);
    }
    g_async_queue_push(w->d->rooms, w->item);
    if (w->other)
        g_async_queue_push(w->d->rooms, w->other);
    g_free(w->judged);
    for (size_t k = 0; k < G_N_ELEMENTS(w->open); k++)
        g_free(w->open[k]);
    g_free(w->base);
    g_free(w->upper);
    g_free(w->in_base);
    g_free(w->runs);
}

void durations_deal(const CountData *data, const Indicator *indicator, const DurationsFace *faces,
                    size_t n, DurationsEach each, void *user) {
    Deal w = {.d = data, .in = indicator, .each = each, .user = user};
    deal_faces(&w, faces, n);
}

// Those of summary.csv.
enum { KINDS = PERIOD_MONTH + 1, MOST_FACES = (1 + CATALOGUE_MOST_BY) * 2 * KINDS };

static size_t summary_faces(const Indicator *in, DurationsFace *faces) {
    size_t n = 0;
    for (int by = -1; by < (int)in->n_by; by++) {
        for (PeriodKind kind = PERIOD_ALL; kind <= PERIOD_MONTH; kind++)
            faces[n++] = (DurationsFace){false, by, kind, false};
        for (PeriodKind kind = PERIOD_ALL; kind < (by < 0 ? PERIOD_MONTH : PERIOD_ALL + 1); kind++)
            faces[n++] = (DurationsFace){true, by, kind, false};
    }
    return n;
}

void durations_each(const CountData *data, const Indicator *indicator, DurationsEach each,
                    void *user) {
    DurationsFace faces[MOST_FACES];
    durations_deal(data, indicator, faces, summary_faces(indicator, faces), each, user);
}

void durations_at(const CountData *data, const Indicator *indicator, const DurationsAsked *asked) {
    DurationsFace faces[MOST_FACES];
    Deal w = {.d = data, .in = indicator, .asked = asked};
    deal_faces(&w, faces, summary_faces(indicator, faces));
}

void durations_give_back(const CountData *data) {
    for (Item *room; (room = g_async_queue_try_pop(data->rooms)) != NULL;)
        g_free(room);
}

Runs durations_keep(Runs runs, double **room) {
    *room = g_new(double, 2 * runs.k + 1);
    if (runs.k > 0) {
        memcpy(*room, runs.value, runs.k * sizeof **room);
        memcpy(*room + runs.k, runs.upto, runs.k * sizeof **room);
    }
    return (Runs){runs.k, *room, *room + runs.k};
}
