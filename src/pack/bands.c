// SPDX-License-Identifier: GPL-3.0-or-later
// Limits at sizes that lie closer where they bend more.
#include "pack/bands.h"

#include <math.h>

enum { STEPS = 120 };

double bands_size(const Funnel *funnel, const Comparison *unit) {
    return funnel->kind == COMPARE_ADJUSTED ? unit->expected : unit->total;
}

double bands_largest(const Comparisons *c, const Funnel *funnel) {
    double largest = 0;
    for (guint k = 0; k < funnel->rows; k++)
        largest = fmax(largest,
                       bands_size(funnel, &g_array_index(c->rows, Comparison, funnel->first + k)));
    return largest * 1.06;
}

static void fill(GArray *bands, const Comparisons *c, const Funnel *funnel) {
    const Indicator *i = c->catalogue->pdata[funnel->indicator];
    const bool whole = funnel->kind != COMPARE_ADJUSTED && i->measure == MEASURE_SHARE;
    const double largest = bands_largest(c, funnel);
    double last = 0;
    if (i->measure == MEASURE_QUANTILE || !isfinite(funnel->centre) || funnel->centre <= 0)
        return;
    for (int k = 1; k <= STEPS; k++) {
        const double at = largest * pow((double)k / STEPS, 2),
                     size = whole ? fmax(1, floor(at)) : at; // shares are of whole records
        if (size <= last)
            continue;
        last = size;
        const Band band = {size, compare_band(c, funnel, size, 0.998),
                           compare_band(c, funnel, size, 0.95)};
        g_array_append_val(bands, band);
    }
}

static void free_array(gpointer data) {
    g_array_unref(data);
}

GPtrArray *bands_new(const Comparisons *c) {
    GPtrArray *all = g_ptr_array_new_with_free_func(free_array);
    for (guint f = 0; f < c->funnels->len; f++) {
        GArray *bands = g_array_new(FALSE, FALSE, sizeof(Band));
        fill(bands, c, &g_array_index(c->funnels, Funnel, f));
        g_ptr_array_add(all, bands);
    }
    return all;
}
