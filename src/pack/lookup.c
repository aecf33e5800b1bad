// SPDX-License-Identifier: GPL-3.0-or-later
// The table of estimates is ordered by indicator, then unit: an index over these two, then a scan.
#include "pack/lookup.h"

#include <math.h>

#include <string.h>

struct Lookup {
    const Estimates *e;
    GHashTable *indicators; // name -> index + 1
    GHashTable *starts;     // (indicator << 16 | unit) -> first row + 1
};

static gpointer place(guint indicator, uint16_t unit) {
    return GUINT_TO_POINTER(indicator << 16 | unit);
}

Lookup *lookup_new(const Estimates *e) {
    Lookup *l = g_new0(Lookup, 1);
    l->e = e;
    l->indicators = g_hash_table_new(g_str_hash, g_str_equal);
    l->starts = g_hash_table_new(NULL, NULL);
    for (guint i = 0; i < e->catalogue->len; i++)
        g_hash_table_insert(l->indicators, ((Indicator *)e->catalogue->pdata[i])->name,
                            GUINT_TO_POINTER(i + 1));
    for (guint r = e->rows->len; r-- > 0;) {
        const Estimate *row = &g_array_index(e->rows, Estimate, r);
        g_hash_table_insert(l->starts, place(row->indicator, row->unit), GUINT_TO_POINTER(r + 1));
    }
    return l;
}

void lookup_free(Lookup *l) {
    if (!l)
        return;
    g_hash_table_unref(l->indicators);
    g_hash_table_unref(l->starts);
    g_free(l);
}

LookupKey lookup_key(const char *indicator) {
    return (LookupKey){.indicator = indicator, .by = FIELD_COUNT};
}

static guint index_of(const Lookup *l, const char *name) {
    return GPOINTER_TO_UINT(g_hash_table_lookup(l->indicators, name));
}

const Indicator *lookup_indicator(const Lookup *l, const char *name) {
    const guint i = index_of(l, name);
    return i ? l->e->catalogue->pdata[i - 1] : NULL;
}

// Index of the first row of an indicator and unit, the number of rows if there is none.
static guint first_row(const Lookup *l, guint indicator, uint16_t unit) {
    const guint r =
        indicator ? GPOINTER_TO_UINT(g_hash_table_lookup(l->starts, place(indicator - 1, unit)))
                  : 0;
    return r ? r - 1 : l->e->rows->len;
}

const Estimate *lookup_row(const Lookup *l, const LookupKey *k) {
    const guint indicator = index_of(l, k->indicator);
    for (guint r = first_row(l, indicator, k->unit); r < l->e->rows->len; r++) {
        const Estimate *row = &g_array_index(l->e->rows, Estimate, r);
        if (row->indicator != indicator - 1 || row->unit != k->unit)
            return NULL;
        if (row->period == k->period && row->by == k->by && row->part == k->part &&
            row->quantile == k->quantile && (k->by == FIELD_COUNT || row->group == k->group))
            return row;
    }
    return NULL;
}

bool lookup_is_known(const Lookup *l, const Estimate *r) {
    const Indicator *i = l->e->catalogue->pdata[r->indicator];
    return isfinite(r->estimate) &&
           !(i->measure == MEASURE_HOURS && r->estimate == 0 && r->unknown > 0);
}

GArray *lookup_groups(const Lookup *l, const char *indicator, FieldId by) {
    GArray *list = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    const guint at = index_of(l, indicator);
    for (guint r = first_row(l, at, 0); r < l->e->rows->len; r++) {
        const Estimate *row = &g_array_index(l->e->rows, Estimate, r);
        if (row->indicator != at - 1 || row->unit != 0 || row->period != 0)
            break;
        if (row->by == by &&
            (list->len == 0 || g_array_index(list, uint16_t, list->len - 1) != row->group))
            g_array_append_val(list, row->group);
    }
    return list;
}

GArray *lookup_periods(const Lookup *l, PeriodKind kind) {
    GArray *list = g_array_new(FALSE, FALSE, sizeof(guint));
    for (guint p = 0; p < l->e->periods->len; p++)
        if (g_array_index(l->e->periods, Period, p).kind == kind)
            g_array_append_val(list, p);
    return list;
}
