// SPDX-License-Identifier: GPL-3.0-or-later
// Plain counts of records by two things at once: flows, hours of the week, completeness.
#ifndef CROSSWARD_MEASURE_CROSSTAB_H
#define CROSSWARD_MEASURE_CROSSTAB_H

#include "record/condition.h"

// rows x columns counts, row after row. Free with crosstab_free.
typedef struct {
    unsigned rows, columns;
    uint64_t *n;
} Crosstab;

void crosstab_free(Crosstab *table);

static inline uint64_t crosstab_at(const Crosstab *t, unsigned row, unsigned column) {
    return t->n[(size_t)row * t->columns + column];
}

// In both, `in` says by record whether it counts; NULL: all do.

// Records for which `among` is true (NULL: all), by the values of two coded or unit fields; value 0
// = unknown is the first row and column.
Crosstab *crosstab_fields(const Transfers *t, const uint8_t *in, const Condition *among,
                          FieldId row, FieldId column);

// By unit (row: index into the transfers' units, 0 = all) and stored field (column: FieldId):
// records that could carry the field, and of these the ones in which it is known. What happens only
// on the way (departure to return, escort, vehicle, equipment, papers, events, distance) is asked
// of records with departed=yes, ended_at of those with departed=no, every other field of all
// records.
void crosstab_completeness(const Transfers *t, const uint8_t *in, Crosstab **asked,
                           Crosstab **known);

#endif
