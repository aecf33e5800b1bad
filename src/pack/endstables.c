// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of the two ends.
#include "pack/endstables.h"

#include "base/csvtable.h"
#include "pack/tables.h"

#include <math.h>

static void number(GString *out, double value) {
    g_string_append_c(out, ',');
    tables_number(out, value);
}

static void limits(GString *out, StatsInterval value) {
    number(out, value.estimate);
    number(out, value.lower);
    number(out, value.upper);
}

GString *endstables_agreement(const Ends *e) {
    GString *out = g_string_new("field,sender_known,receiver_known,both,equal,within_5_minutes,"
                                "agreement,kappa,lower,upper,confidence\n");
    for (guint i = 0; i < e->fields->len; i++) {
        const EndsField *f = &g_array_index(e->fields, EndsField, i);
        const FieldKind kind = field_table[f->field].kind;
        g_string_append(out, field_table[f->field].name);
        number(out, (double)f->sender_known);
        number(out, (double)f->receiver_known);
        number(out, (double)f->both);
        number(out, (double)f->equal);
        number(out, kind == KIND_TIME ? (double)f->near : NAN);
        number(out, f->agreement);
        limits(out, f->kappa);
        number(out, e->confidence);
        g_string_append_c(out, '\n');
    }
    return out;
}

GString *endstables_recorded(const Ends *e, const Transfers *t) {
    GString *out = g_string_new("unit,sender,receiver,both,total,lower,upper,recorded,"
                                "recorded_lower,recorded_upper,confidence\n");
    for (guint i = 0; i < e->units->len; i++) {
        const EndsUnit *u = &g_array_index(e->units, EndsUnit, i);
        csvtable_append(out, u->unit ? t->units->pdata[u->unit] : "all");
        number(out, (double)u->sender);
        number(out, (double)u->receiver);
        number(out, (double)u->both);
        limits(out, u->total);
        limits(out, u->recorded);
        number(out, e->confidence);
        g_string_append_c(out, '\n');
    }
    return out;
}

static void month_name(char name[16], const Received *r, guint month) {
    const int at = r->first + (int)month;
    g_snprintf(name, 16, "%d-%02d", at / 12, at % 12 + 1);
}

GString *endstables_received(const Received *r, const Transfers *t) {
    static const char *const state[] = {"usual", "few", "none"};
    GString *out = g_string_new("unit,month,rows,usual,state\n");
    for (guint k = 0; k < r->units->len; k++) {
        const ReceivedUnit *unit = &g_array_index(r->units, ReceivedUnit, k);
        for (guint m = 0; m < r->months; m++) {
            char name[16];
            month_name(name, r, m);
            csvtable_append(out, t->units->pdata[unit->unit]);
            g_string_append_printf(out, ",%s,%u,", name, unit->rows[m]);
            tables_number(out, unit->usual);
            g_string_append_printf(out, ",%s\n", state[received_state(unit, m)]);
        }
    }
    return out;
}
