// SPDX-License-Identifier: GPL-3.0-or-later
// Writing casemix.csv and calibration.csv.
#include "pack/modeltables.h"

#include "base/csvtable.h"
#include "pack/tables.h"

#include <math.h>

static const char *model_kind(const Casemix *m) {
    return !m->fitted ? "refused" : m->firth ? "firth" : "maximum-likelihood";
}

static void append_model(GString *out, const char *indicator, const Casemix *m) {
    const CasemixTerm none = {NULL, NULL, NAN, NAN, {NAN, NAN, NAN}};
    for (guint i = 0; i < MAX(m->terms->len, 1); i++) {
        const CasemixTerm *t = m->terms->len ? m->terms->pdata[i] : &none;
        const double values[] = {t->records,          t->events,           t->odds_ratio.estimate,
                                 t->odds_ratio.lower, t->odds_ratio.upper, m->records,
                                 m->events,           m->parameters,       m->c_statistic};
        csvtable_append_cell(out, indicator);
        csvtable_append_cell(out, model_kind(m));
        csvtable_append_cell(out, m->reason ? m->reason : "");
        csvtable_append_cell(out, t->factor ? t->factor : "");
        csvtable_append_cell(out, t->level ? t->level : "");
        tables_numbers(out, values, G_N_ELEMENTS(values));
    }
}

static void append_calibration(GString *out, const char *indicator, const Casemix *m) {
    for (size_t k = 0; k < m->groups; k++) {
        const CalibrationGroup *g = &m->group[k];
        const double values[] = {(double)k + 1,    g->lowest,       g->highest, g->trials,
                                 g->events,        g->expected,     g->mean,    m->seen[k].estimate,
                                 m->seen[k].lower, m->seen[k].upper};
        csvtable_append_cell(out, indicator);
        tables_numbers(out, values, G_N_ELEMENTS(values));
    }
}

// Calls `append` for each indicator that has a model.
static GString *each(const Comparisons *c, const char *head,
                     void (*append)(GString *out, const char *indicator, const Casemix *m)) {
    GString *out = g_string_new(head);
    for (guint i = 0; i < c->funnels->len; i++) {
        const Funnel *f = &g_array_index(c->funnels, Funnel, i);
        if (f->kind == COMPARE_CRUDE && f->model)
            append(out, ((const Indicator *)c->catalogue->pdata[f->indicator])->name, f->model);
    }
    return out;
}

GString *modeltables_casemix(const Comparisons *c) {
    return each(c,
                "indicator,fit,reason,factor,level,records,events,odds_ratio,lower,upper,"
                "model_records,model_events,parameters,c_statistic\n",
                append_model);
}

GString *modeltables_calibration(const Comparisons *c) {
    return each(c,
                "indicator,tenth,lowest_risk,highest_risk,records,events,expected,mean_risk,"
                "estimate,lower,upper\n",
                append_calibration);
}
