// SPDX-License-Identifier: GPL-3.0-or-later
// Writing signals.csv.
#include "pack/signals.h"

#include "base/csvtable.h"
#include "pack/tables.h"

static void append_row(GString *out, const Comparisons *c, const Signal *s) {
    char *group = signal_group(s->urgency);
    char *robust = compare_robust(s->robust, s->rests_on);
    csvtable_append_cell(out, s->unit ? "unit" : "network");
    csvtable_append_cell(out, s->unit ? c->t->units->pdata[s->unit] : "all");
    csvtable_append_cell(out, ((const Indicator *)c->catalogue->pdata[s->indicator])->name);
    csvtable_append_cell(out, signal_kind(s->kind));
    csvtable_append_cell(out, s->period);
    csvtable_append_cell(out, signal_direction(s->direction));
    tables_number_cell(out, s->estimate);
    tables_number_cell(out, s->reference);
    tables_number_cell(out, s->p);
    tables_number_cell(out, s->q);
    csvtable_append_cell(out, robust);
    csvtable_append_cell(out, s->sentence);
    csvtable_append_cell(out, s->against);
    csvtable_append_cell(out, s->adjusted ? "yes" : "no");
    tables_number_cell(out, s->effect);
    tables_number_cell(out, s->lower);
    tables_number_cell(out, s->upper);
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
