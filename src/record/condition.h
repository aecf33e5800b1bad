// SPDX-License-Identifier: GPL-3.0-or-later
// Conditions over a record: `field=code|code & field!=code`, three-valued.
#ifndef CROSSWARD_RECORD_CONDITION_H
#define CROSSWARD_RECORD_CONDITION_H

#include "record/transfers.h"

// In this order the value of a conjunction is the least of its terms'.
typedef enum { CONDITION_FALSE, CONDITION_UNKNOWN, CONDITION_TRUE } ConditionValue;

typedef struct Condition Condition;

// Reads a condition; "all" (or nothing) is always true. Error names the word that is wrong. Free
// with condition_free.
Condition *condition_parse(const char *text, GError **error);
void condition_free(Condition *c);

// Value for one transfer: false if any term is, else unknown if any is, else true. Derived columns
// must be filled.
ConditionValue condition_value(const Condition *c, const Transfers *t, size_t row);

// The same for the n transfers from first on, a term at a time: value[i] is a ConditionValue.
void condition_fill(const Condition *c, const Transfers *t, size_t first, size_t n, uint8_t *value);

// Number of adverse events of the transfer that match the condition's event term (all adverse ones
// if it has none); call it where the condition is true.
unsigned condition_events(const Condition *c, const Transfers *t, size_t row);

// Whether it has an event term.
bool condition_has_event(const Condition *c);

#endif
