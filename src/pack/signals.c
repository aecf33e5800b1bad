// SPDX-License-Identifier: GPL-3.0-or-later
// Writing signals.csv.
#include "pack/signals.h"

#include "base/csvtable.h"
#include "pack/tables.h"

static void cell(GString *out, const char *text) {
    csvtable_append(out, text);
    g_string_append_c(out, ',');
}

static void number(GString *out, double value) {
    tables_number(out, value);
    g_string_append_c(out, ',');
}

static void append_row(GString *out, const Comparisons *c, const Signal *s) {
    char *group = signal_group(s->urgency);
    char *robust = compare_robust(s->robust, s->rests_on);
    cell(out, s->unit ? "unit" : "network");
    cell(out, s->unit ? c->t->units->pdata[s->unit] : "all");
    cell(out, ((const Indicator *)c->catalogue->pdata[s->indicator])->name);
    cell(out, signal_kind(s->kind));
    cell(out, s->period);
    cell(out, signal_direction(s->direction));
    number(out, s->estimate);
    number(out, s->reference);
    number(out, s->p);
    number(out, s->q);
    cell(out, robust);
    cell(out, s->sentence);
    cell(out, s->against);
    cell(out, s->adjusted ? "yes" : "no");
    number(out, s->effect);
    number(out, s->lower);
    number(out, s->upper);
    g_string_append_printf(out, "%s\n", group);
    g_free(group);
    g_free(robust);
}

GString *signals_csv(const Signals *signals, const Comparisons *c) {
    GString *out = g_string_new("scope,unit,indicator,kind,period,direction,estimate,reference,p,q,"
                                "robust,sentence,against,adjusted,effect,lower,upper,group\n");
    for (guint i = 0; i < signals->list->len; i++)
        append_row(out, c, signals->list->pdata[i]);
    return out;
}
