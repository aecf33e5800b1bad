// SPDX-License-Identifier: GPL-3.0-or-later
// Counting pairs of values.
#include "measure/crosstab.h"

#include "measure/count.h"

#include <math.h>
#include <string.h>

static Crosstab *crosstab_new(unsigned rows, unsigned columns) {
    Crosstab *t = g_new(Crosstab, 1);
    *t = (Crosstab){rows, columns, g_new0(uint64_t, (size_t)rows * columns + 1)};
    return t;
}

void crosstab_free(Crosstab *t) {
    if (!t)
        return;
    g_free(t->n);
    g_free(t);
}

static unsigned values_of(const Transfers *t, FieldId f) {
    return field_table[f].kind == KIND_UNIT ? t->units->len : field_table[f].codes->n + 1;
}

Crosstab *crosstab_fields(const Transfers *t, const uint8_t *in, const Condition *among,
                          FieldId row, FieldId column) {
    Crosstab *table = crosstab_new(values_of(t, row), values_of(t, column));
    uint8_t value[COUNT_BLOCK];
    memset(value, CONDITION_TRUE, sizeof value);
    for (size_t first = 0; first < t->n; first += COUNT_BLOCK) {
        const size_t n = MIN((size_t)COUNT_BLOCK, t->n - first);
        if (among)
            condition_fill(among, t, first, n, value);
        for (size_t i = 0; i < n; i++)
            if (value[i] == CONDITION_TRUE && (!in || in[first + i]))
                table->n[(size_t)count_value(t, row, first + i) * table->columns +
                         count_value(t, column, first + i)]++;
    }
    return table;
}

// ---- completeness ----

enum {
    OUT = CODE_yes_no_NO + 1,
    DEPARTED
}; // unknown, yes, no, and who does not count: cells a unit

typedef struct {
    const Transfers *t;
    const uint16_t *unit;
    const uint8_t *departed;
    uint64_t *n; // [unit * DEPARTED + departed]
} Known;

#define COUNT_KNOWN(type, is_known)                                                                \
    for (size_t i = 0; i < k->t->n; i++) {                                                         \
        const type value = ((const type *)column)[i];                                              \
        k->n[k->unit[i] * DEPARTED + k->departed[i]] += (is_known) ? 1 : 0;                        \
    }

static void count_known(const Known *k, FieldId f) {
    const void *column = k->t->column[f];
    memset(k->n, 0, (size_t)k->t->units->len * DEPARTED * sizeof *k->n);
    if (!column)
        return; // no record has the field
    switch (field_table[f].kind) {
    case KIND_ID:
        if (k->t->ids_dropped)
            COUNT_KNOWN(uint8_t, value != 0)
        else
            COUNT_KNOWN(uint64_t, value != 0)
        break;
    case KIND_EVENTS:
        COUNT_KNOWN(uint32_t, value != 0)
        break;
    case KIND_NUMBER:
        COUNT_KNOWN(double, !isnan(value))
        break;
    case KIND_DATE:
    case KIND_TIME:
        COUNT_KNOWN(int32_t, value != WHEN_UNKNOWN)
        break;
    case KIND_UNIT:
        COUNT_KNOWN(uint16_t, value != 0)
        break;
    case KIND_CODE:
        COUNT_KNOWN(uint8_t, value != 0)
        break;
    }
}

// Whether a field is asked of a record that departed (or did not, or nobody knows: 0).
static bool is_asked(FieldId f, unsigned departed) {
    if (f == FIELD_ended_at)
        return departed == CODE_yes_no_NO;
    const bool on_the_way = (f >= FIELD_team_ready_at && f <= FIELD_delay_reason) ||
                            (f >= FIELD_escort_grade && f <= FIELD_distance_km);
    return !on_the_way || departed == CODE_yes_no_YES;
}

// Adds up those of whom the field is asked, by unit and of all.
static void add_up(Crosstab *table, guint units, const uint64_t *n, FieldId f) {
    for (guint u = 0; u < units; u++)
        for (unsigned d = 0; d < OUT; d++)
            if (is_asked(f, d)) {
                table->n[f] += n[u * DEPARTED + d];
                table->n[(size_t)u * FIELD_STORED + f] += n[u * DEPARTED + d];
            }
}

// Whether each record departed, and OUT for those that do not count. Free it.
static uint8_t *departed_of(const Transfers *t, const uint8_t *in) {
    uint8_t *departed = g_new(uint8_t, t->n + 1);
    for (size_t i = 0; i < t->n; i++)
        departed[i] = in[i] ? transfers_codes(t, FIELD_departed)[i] : OUT;
    return departed;
}

void crosstab_completeness(const Transfers *t, const uint8_t *in, Crosstab **asked,
                           Crosstab **known) {
    const guint units = t->units->len;
    uint64_t *all = g_new0(uint64_t, (size_t)units * DEPARTED);
    uint8_t *masked = in ? departed_of(t, in) : NULL;
    const Known k = {t, transfers_units(t, FIELD_sending_unit),
                     masked ? masked : transfers_codes(t, FIELD_departed),
                     g_new0(uint64_t, (size_t)units * DEPARTED)};
    *asked = crosstab_new(units, FIELD_STORED);
    *known = crosstab_new(units, FIELD_STORED);
    for (size_t i = 0; i < t->n; i++)
        all[k.unit[i] * DEPARTED + k.departed[i]]++;
    for (int f = 0; f < FIELD_STORED; f++) {
        count_known(&k, (FieldId)f);
        add_up(*asked, units, all, (FieldId)f);
        add_up(*known, units, k.n, (FieldId)f);
    }
    g_free(all);
    g_free(k.n);
    g_free(masked);
}
