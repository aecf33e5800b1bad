// SPDX-License-Identifier: GPL-3.0-or-later
// Counts by series and cell.
#include "disclosure/series.h"

#include <math.h>
#include <string.h>

// Periods that units have rows of: all that come before the months.
static guint long_periods(const Estimates *e) {
    guint n = 0;
    while (n < e->periods->len && g_array_index(e->periods, Period, n).kind != PERIOD_MONTH)
        n++;
    return n;
}

guint series_cell(const Estimates *e, guint place, guint period) {
    if (place == 0)
        return period;
    if (period == 0)
        return e->periods->len + place - 1;
    return e->periods->len + (e->units->len - 1) + (place - 1) * (long_periods(e) - 1) + period - 1;
}

typedef struct {
    const Estimates *e;
    SeriesTable *table;
    guint *place; // by index of a unit
} Work;

G_STATIC_ASSERT(FIELD_COUNT < 256);

static gint64 key_of(const Series *s) {
    return (gint64)s->indicator << 48 | (gint64)s->part << 32 | (gint64)s->group << 16 |
           (gint64)s->by << 8 | (gint64)s->count;
}

guint series_find(const SeriesTable *t, const Series *like) {
    const gint64 key = key_of(like);
    return GPOINTER_TO_UINT(g_hash_table_lookup(t->index, &key)) -
           1; // SERIES_NONE if it is not there
}

static guint series_at(SeriesTable *t, Series s) {
    const guint found = series_find(t, &s);
    if (found != SERIES_NONE)
        return found;
    const gint64 key = key_of(&s);
    s.cells = s.by == FIELD_COUNT ? t->wide : t->narrow;
    s.value = g_new0(uint32_t, s.cells + 1);
    g_array_append_val(t->list, s);
    g_hash_table_insert(t->index, g_memdup2(&key, sizeof key), GUINT_TO_POINTER(t->list->len));
    return t->list->len - 1;
}

// Row k tells that there are so many.
static void tell(const Work *w, guint k, SeriesCount count, double n) {
    const Estimate *r = &g_array_index(w->e->rows, Estimate, k);
    if (!isfinite(n))
        return;
    const guint s = series_at(w->table, (Series){.indicator = r->indicator,
                                                 .part = count == SERIES_EVENTS ? r->part : 0,
                                                 .group = r->group,
                                                 .by = r->by,
                                                 .count = count});
    w->table->of[k * SERIES_COUNTS + count] = s;
    g_array_index(w->table->list, Series, s).value[w->table->cell[k]] = (uint32_t)n;
}

static void add_row(const Work *w, guint k) {
    const Estimate *r = &g_array_index(w->e->rows, Estimate, k);
    const Indicator *i = w->e->catalogue->pdata[r->indicator];
    const double unknown = (double)r->unknown;
    double known = r->total, events = r->events;
    switch (i->measure) {
    case MEASURE_COUNT:
    case MEASURE_HOURS:
    case MEASURE_OVERLAP:
        known = r->events;
        events = NAN;
        break;
    case MEASURE_RATE: // hours and km are not told by record, but taken as if they were
        known = r->records;
        break;
    case MEASURE_SHARE:
        tell(w, k, SERIES_REST, r->total - r->events);
        break;
    case MEASURE_MIX:
    case MEASURE_QUANTILE:
        break;
    }
    tell(w, k, SERIES_KNOWN, known);
    tell(w, k, SERIES_UNKNOWN, unknown);
    tell(w, k, SERIES_ALL, known + unknown);
    tell(w, k, SERIES_EVENTS, events);
}

SeriesTable *series_new(const Estimates *e) {
    SeriesTable *t = g_new(SeriesTable, 1);
    Work w = {e, t, g_new0(guint, e->t->units->len + 1)};
    t->index = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL);
    t->narrow = e->periods->len + e->units->len - 1;
    t->wide = t->narrow + (e->units->len - 1) * (long_periods(e) - 1);
    t->list = g_array_new(FALSE, FALSE, sizeof(Series));
    t->of = g_new(guint, (gsize)e->rows->len * SERIES_COUNTS + 1);
    t->cell = g_new(guint, e->rows->len + 1);
    memset(t->of, 0xff, (gsize)e->rows->len * SERIES_COUNTS * sizeof *t->of); // SERIES_NONE
    for (guint p = 0; p < e->units->len; p++)
        w.place[g_array_index(e->units, uint16_t, p)] = p;
    for (guint k = 0; k < e->rows->len; k++) {
        const Estimate *r = &g_array_index(e->rows, Estimate, k);
        t->cell[k] = series_cell(e, w.place[r->unit], r->period);
        add_row(&w, k);
    }
    g_free(w.place);
    return t;
}

void series_free(SeriesTable *t) {
    for (guint i = 0; i < t->list->len; i++)
        g_free(g_array_index(t->list, Series, i).value);
    g_array_unref(t->list);
    g_free(t->of);
    g_free(t->cell);
    g_hash_table_unref(t->index);
    g_free(t);
}
