// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of units by parts of a mix.
#include "measure/mixunits.h"

#include <math.h>

static void free_mix(gpointer data) {
    Mixunits *m = data;
    g_array_unref(m->cells);
    g_free(m);
}

static gint by_size(gconstpointer a, gconstpointer b) {
    const MixunitsCell *x = a, *y = b;
    if (fabs(x->residual) != fabs(y->residual))
        return fabs(x->residual) > fabs(y->residual) ? -1 : 1;
    return x->unit != y->unit ? x->unit - y->unit : x->part - y->part;
}

// rows: the mix's estimates of units over the span, unit by unit, `parts` each.
static Mixunits *mix_of(guint indicator, const GArray *rows, guint parts) {
    Mixunits *m = g_new0(Mixunits, 1);
    const guint units = rows->len / parts;
    double *counts = g_new(double, rows->len + 1), *column = g_new0(double, parts), all = 0;
    m->indicator = (uint16_t)indicator;
    m->cells = g_array_new(FALSE, FALSE, sizeof(MixunitsCell));
    for (guint i = 0; i < rows->len; i++) {
        counts[i] = g_array_index(rows, const Estimate *, i)->events;
        column[i % parts] += counts[i];
        all += counts[i];
    }
    m->test = table_chisq(counts, units, parts);
    for (guint i = 0; i < rows->len; i++) {
        const Estimate *e = g_array_index(rows, const Estimate *, i);
        const double residual = table_residual(counts, units, parts, i / parts, i % parts);
        const MixunitsCell cell = {
            e->unit, e->part, e->events, e->total, e->total * column[i % parts] / all, residual};
        if (!isnan(residual))
            g_array_append_val(m->cells, cell);
    }
    g_array_sort(m->cells, by_size);
    g_free(counts);
    g_free(column);
    return m;
}

GPtrArray *mixunits_all(const Estimates *e) {
    GPtrArray *all = g_ptr_array_new_with_free_func(free_mix);
    for (guint r = 0; r < e->rows->len;) {
        const guint indicator = g_array_index(e->rows, Estimate, r).indicator;
        const bool mix =
            ((const Indicator *)e->catalogue->pdata[indicator])->measure == MEASURE_MIX;
        GArray *rows = g_array_new(FALSE, FALSE, sizeof(const Estimate *));
        guint parts = 0;
        for (; r < e->rows->len; r++) {
            const Estimate *row = &g_array_index(e->rows, Estimate, r);
            if (row->indicator != indicator)
                break;
            if (!mix || row->unit == 0 || row->period != 0 || row->by != FIELD_COUNT)
                continue;
            parts += rows->len == 0 || row->unit == g_array_index(rows, const Estimate *, 0)->unit;
            g_array_append_val(rows, row);
        }
        if (parts > 0)
            g_ptr_array_add(all, mix_of(indicator, rows, parts));
        g_array_unref(rows);
    }
    return all;
}
