// SPDX-License-Identifier: GPL-3.0-or-later
// Writing items.csv.
#include "pack/itemstable.h"

#include "base/csvtable.h"
#include "pack/tables.h"

GString *itemstable_csv(const GPtrArray *items, const Estimates *e) {
    GString *out = g_string_new("indicator,field,unit,events,total,estimate,lower,upper,"
                                "confidence,unknown\n");
    for (guint i = 0; i < items->len; i++) {
        const Item *item = items->pdata[i];
        const Indicator *whole = e->catalogue->pdata[item->indicator];
        for (guint u = 0; u < e->units->len; u++) {
            const ItemsCell *c = &item->cells[u];
            const uint16_t unit = g_array_index(e->units, uint16_t, u);
            const double values[] = {(double)c->events, (double)c->total, c->share.estimate,
                                     c->share.lower,    c->share.upper,   e->confidence,
                                     (double)c->unknown};
            g_string_append_printf(out, "%s,%s,", whole->name, field_table[item->field].name);
            csvtable_append(out, unit ? e->t->units->pdata[unit] : "all");
            for (guint k = 0; k < G_N_ELEMENTS(values); k++) {
                g_string_append_c(out, ',');
                tables_number(out, values[k]);
            }
            g_string_append_c(out, '\n');
        }
    }
    return out;
}
