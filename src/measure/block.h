// SPDX-License-Identifier: GPL-3.0-or-later
// A block of records with what indicators have in common of them, each found once for all that ask:
// values of conditions and of fields, and the cells that records belong to.
#ifndef CROSSWARD_MEASURE_BLOCK_H
#define CROSSWARD_MEASURE_BLOCK_H

#include "measure/count.h"

typedef struct {
    const CountData *data; // borrowed
    size_t first, n;       // records at hand; n at most COUNT_BLOCK
    struct BlockParts *parts;
} Block;

// Holds no records yet. Free with block_free.
Block *block_new(const CountData *data);
void block_free(Block *block);

// Turns to the next records; false if there are none. What was found of others is gone.
bool block_next(Block *block);

// What follows has n values each and lasts until block_next.

// ConditionValue of a condition, told apart from others by its text.
const uint8_t *block_condition(Block *block, const char *text, const Condition *condition);

// Value of a coded or unit field.
const uint16_t *block_values(Block *block, FieldId field);

// Cell by sending unit and month: place in CountData.units * months + month.
const uint32_t *block_units(Block *block);

// Of a field that the catalogue breaks down by, cell by group and month: position * months + month.
const uint32_t *block_groups(Block *block, FieldId field);

// Of such a field, cell by sending unit and group over the months of `all`: place * groups +
// position; units * groups, the one after the last, for records of other months.
const uint32_t *block_unit_groups(Block *block, FieldId field);

#endif
