// SPDX-License-Identifier: GPL-3.0-or-later
// Writing comparisons.csv.
#include "pack/comparisons.h"

#include "base/csvtable.h"
#include "pack/tables.h"

static void append_row(GString *out, const Comparisons *c, const Funnel *f, const Comparison *r) {
    const double numbers[] = {r->events, r->total,   r->expected, r->value.estimate, r->centre,
                              r->low_95, r->high_95, r->low_998,  r->high_998,       r->p,
                              r->q,      r->phi,     r->tau2};
    char *robust = compare_robust(r->robust, r->rests_on);
    csvtable_append_cell(out, ((const Indicator *)c->catalogue->pdata[r->indicator])->name);
    csvtable_append_cell(out, r->kind == COMPARE_CRUDE ? "crude" : "adjusted");
    csvtable_append_cell(out, c->t->units->pdata[r->unit]);
    csvtable_append_cell(out, c->period);
    for (guint i = 0; i < G_N_ELEMENTS(numbers); i++) {
        tables_number(out, numbers[i]);
        g_string_append_c(out, ',');
    }
    csvtable_append_cell(out, robust);
    tables_number(out, r->shrunk);
    g_string_append_c(out, ',');
    tables_number(out, r->own_weight);
    if (r->rank_low > 0)
        g_string_append_printf(out, ",%u,%u", r->rank_low, r->rank_high);
    else
        g_string_append(out, ",,");
    const double more[] = {r->value.lower,     r->value.upper,  r->effect.estimate,
                           r->effect.lower,    r->effect.upper, r->unknown,
                           f->alike.statistic, f->alike.df,     f->alike.p};
    for (guint i = 0; i < G_N_ELEMENTS(more); i++) {
        g_string_append_c(out, ',');
        tables_number(out, more[i]);
    }
    g_string_append_c(out, '\n');
    g_free(robust);
}

GString *comparisons_csv(const Comparisons *c) {
    GString *out = g_string_new("indicator,kind,unit,period,events,total,expected,value,centre,"
                                "low_95,high_95,low_998,high_998,p,q,phi,tau2,robust,shrunk,"
                                "own_weight,rank_low,rank_high,lower,upper,effect,effect_low,"
                                "effect_high,unknown,kruskal_h,kruskal_df,kruskal_p\n");
    for (guint i = 0; i < c->funnels->len; i++) {
        const Funnel *f = &g_array_index(c->funnels, Funnel, i);
        for (guint k = 0; k < f->rows; k++)
            append_row(out, c, f, &g_array_index(c->rows, Comparison, f->first + k));
    }
    return out;
}
