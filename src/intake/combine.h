// SPDX-License-Identifier: GPL-3.0-or-later
// One field of a record fed by several cells: events add up, other values must agree.
#ifndef CROSSWARD_INTAKE_COMBINE_H
#define CROSSWARD_INTAKE_COMBINE_H

#include "intake/cell.h"

// A field's value as it was before another cell is read.
typedef struct {
    int64_t value;
    uint64_t id;
    double number;
} CombineValue;

// Takes the field's value out of the record, which then says unknown; after the next cell has been
// read, combine_end joins the two. Events add up, and a category beats `none`; other values that
// are both known and differ make the field `clashing`.
CombineValue combine_begin(CellRecord *record, FieldId field);
void combine_end(CellRecord *record, Transfers *pool, FieldId field, const CombineValue *before);

// Sets the field to unknown.
void combine_drop(CellRecord *record, FieldId field);

// The list of events with that degree of harm (a value of field_harm) for those that have none.
uint32_t combine_grade(Transfers *pool, uint32_t list, uint8_t harm);

#endif
