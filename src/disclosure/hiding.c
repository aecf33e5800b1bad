// SPDX-License-Identifier: GPL-3.0-or-later
// Rows that tell too much by themselves, and the table without them.
#include "disclosure/hiding.h"

#include "stats/quantile.h"

#include <math.h>

static bool few(const Hiding *h, double count) {
    return count >= 1 && count < h->least; // NaN: there is none
}

static bool is_small(const Hiding *h, const Indicator *i, const Estimate *r) {
    const bool share = i->measure == MEASURE_SHARE;
    const bool counts = share || i->measure == MEASURE_MIX || i->measure == MEASURE_QUANTILE ||
                        (i->measure == MEASURE_RATE && i->exposure == EXPOSURE_TRANSFERS);
    return few(h, r->events) || few(h, (double)r->unknown) || (counts && few(h, r->total)) ||
           (share && few(h, r->total - r->events));
}

static bool far_in(const Hiding *h, size_t rank, size_t n) {
    return rank >= h->least && n - rank + 1 >= h->least;
}

static bool is_extreme(const Hiding *h, const Estimates *e, const Estimate *r) {
    static const double of[] = {0.25, 0.5, 0.75, 0.9};
    const size_t n = (size_t)r->total;
    if (n == 0)
        return false;
    const QuantileRanks ranks = quantile_all_ranks(n, of[r->quantile], e->confidence);
    return !far_in(h, ranks.low, n) || !far_in(h, ranks.high, n) || !far_in(h, ranks.lower, n) ||
           !far_in(h, ranks.upper, n);
}

static HidingKind kind_of(const Hiding *h, const Estimates *e, const Estimate *r) {
    const Indicator *i = e->catalogue->pdata[r->indicator];
    if (is_small(h, i, r))
        return HIDING_SMALL;
    return i->measure == MEASURE_QUANTILE && is_extreme(h, e, r) ? HIDING_EXTREME : HIDING_SHOWN;
}

Hiding *hiding_new(const Estimates *e, unsigned least) {
    Hiding *h = g_new0(Hiding, 1);
    h->least = least;
    h->of = g_new(uint8_t, e->rows->len + 1);
    for (guint k = 0; k < e->rows->len; k++)
        h->of[k] = (uint8_t)kind_of(h, e, &g_array_index(e->rows, Estimate, k));
    for (guint k = 0; k < e->rows->len; k++)
        h->rows[h->of[k]]++;
    return h;
}

void hiding_free(Hiding *h) {
    if (h)
        g_free(h->of);
    g_free(h);
}

static void mask(Estimate *r) {
    r->suppressed = true;
    r->unknown = 0;
    r->events = r->total = r->estimate = r->lower = r->upper = r->if_none = r->if_all = NAN;
}

Estimates *hiding_masked(const Estimates *e, const Hiding *h) {
    Estimates *masked = g_new(Estimates, 1);
    *masked = *e;
    g_array_ref(e->periods);
    g_array_ref(e->units);
    masked->rows = g_array_copy(e->rows);
    for (guint k = 0; k < e->rows->len; k++)
        if (h->of[k] != HIDING_SHOWN)
            mask(&g_array_index(masked->rows, Estimate, k));
    return masked;
}
