// SPDX-License-Identifier: GPL-3.0-or-later
// Finding rows in the table of estimates.
#ifndef CROSSWARD_PACK_LOOKUP_H
#define CROSSWARD_PACK_LOOKUP_H

#include "measure/estimate.h"

typedef struct Lookup Lookup;

// Index over the estimates, which must outlive it. Free with lookup_free.
Lookup *lookup_new(const Estimates *e);
void lookup_free(Lookup *l);

// What to look for; lookup_key gives the network over the whole period, not broken down.
typedef struct {
    const char *indicator;
    uint16_t unit, period; // indices, 0 = all
    FieldId by;            // FIELD_COUNT = not broken down
    uint16_t group, part;
    uint8_t quantile; // 0 to 3: p25, median, p75, p90
} LookupKey;
LookupKey lookup_key(const char *indicator);

// The row, or NULL if there is none.
const Estimate *lookup_row(const Lookup *l, const LookupKey *key);

// Whether a row says anything: hours of which none is known come to 0 there, and 0 they are not.
bool lookup_is_known(const Lookup *l, const Estimate *row);

// The indicator of that name, or NULL: a network may have none of it.
const Indicator *lookup_indicator(const Lookup *l, const char *name);

// Codes or units by which an indicator's network rows are broken down by a field, in print order,
// unknown last; uint16_t. Empty if they are not. Free with g_array_unref.
GArray *lookup_groups(const Lookup *l, const char *indicator, FieldId by);

// Indices of the periods of that kind, in order; guint. Free with g_array_unref.
GArray *lookup_periods(const Lookup *l, PeriodKind kind);

#endif
