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

// Whether it has an event term that is not negated.
bool condition_has_event(const Condition *c);

// One term as it was read, for those who write conditions in another language.
typedef struct {
    FieldId field;            // a coded or unit field; FIELD_events for `event`
    bool negated;             // != rather than =
    bool any;                 // event=any
    uint64_t codes;           // bit v set: value v of the field's list is named
    const char *const *units; // of a unit field: the codes named, ended by NULL
} ConditionTerm;

// Number of terms (none: always true), and the i-th of them; its strings belong to the condition.
unsigned condition_terms(const Condition *c);
ConditionTerm condition_term(const Condition *c, unsigned i);

#endif
