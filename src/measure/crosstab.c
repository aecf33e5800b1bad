// SPDX-License-Identifier: GPL-3.0-or-later
// Counting pairs of values.
#include "measure/crosstab.h"

#include "measure/count.h"

#include <math.h>

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

Crosstab *crosstab_fields(const Transfers *t, const Condition *among, FieldId row, FieldId column) {
    Crosstab *table = crosstab_new(values_of(t, row), values_of(t, column));
    for (size_t i = 0; i < t->n; i++)
        if (!among || condition_value(among, t, i) == CONDITION_TRUE)
            table->n[(size_t)count_value(t, row, i) * table->columns + count_value(t, column, i)]++;
    return table;
}

static bool is_known(const Transfers *t, FieldId f, size_t i) {
    const void *column = t->column[f];
    switch (field_table[f].kind) {
    case KIND_ID:
        return ((const uint64_t *)column)[i] != 0;
    case KIND_EVENTS:
        return ((const uint32_t *)column)[i] != 0;
    case KIND_NUMBER:
        return !isnan(((const double *)column)[i]);
    case KIND_DATE:
    case KIND_TIME:
        return ((const int32_t *)column)[i] != WHEN_UNKNOWN;
    case KIND_UNIT:
    case KIND_CODE:
        break;
    }
    return count_value(t, f, i) != 0;
}

// Whether a field is asked of a record that departed (or did not, or nobody knows: 0).
static bool is_asked(FieldId f, uint8_t departed) {
    if (f == FIELD_ended_at)
        return departed == CODE_yes_no_NO;
    const bool on_the_way = (f >= FIELD_team_ready_at && f <= FIELD_delay_reason) ||
                            (f >= FIELD_escort_grade && f <= FIELD_distance_km);
    return !on_the_way || departed == CODE_yes_no_YES;
}

void crosstab_completeness(const Transfers *t, Crosstab **asked, Crosstab **known) {
    *asked = crosstab_new(t->units->len, FIELD_STORED);
    *known = crosstab_new(t->units->len, FIELD_STORED);
    const uint16_t *unit = transfers_units(t, FIELD_sending_unit);
    const uint8_t *departed = transfers_codes(t, FIELD_departed);
    for (int f = 0; f < FIELD_STORED; f++)
        for (size_t i = 0; i < t->n; i++) {
            if (!is_asked((FieldId)f, departed[i]))
                continue;
            const size_t at[] = {(size_t)f, (size_t)unit[i] * FIELD_STORED + (size_t)f};
            const bool is = is_known(t, (FieldId)f, i);
            for (size_t k = 0; k < G_N_ELEMENTS(at); k++) {
                (*asked)->n[at[k]]++;
                (*known)->n[at[k]] += is;
            }
        }
}
