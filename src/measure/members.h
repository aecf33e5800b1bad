// SPDX-License-Identifier: GPL-3.0-or-later
// The records behind one cell of the table of estimates.
#ifndef CROSSWARD_MEASURE_MEMBERS_H
#define CROSSWARD_MEASURE_MEMBERS_H

#include "measure/count.h"
#include "measure/estimate.h"

typedef struct {
    uint16_t unit;  // sending unit, 0 = all
    int first, end; // months, half-open
    FieldId by;     // field that the group is of, FIELD_COUNT = everybody
    uint16_t group; // code or unit of it, 0 = unknown
    uint16_t part;  // of a mix: code of a part, 0 = all parts
} MembersCell;

// What one record adds to the cell. Without a value (see summary.csv) events and total are 0.
typedef struct {
    uint32_t row; // of the transfers
    bool unknown; // then it adds nothing else
    uint32_t events;
    double total;    // records, hours or km; of a mix, events
    int32_t minutes; // duration, -1 if the indicator has none
} Member;

// The records that count in a cell or would if all were known of them, in the order of the
// transfers. GArray of Member, free with g_array_unref. Those of a mix of events without any are
// not among them, as they add nothing.
GArray *members_of(const CountData *data, const Indicator *indicator, const MembersCell *cell);

// Sums of members as summary.csv gives them: events and total are NaN where the measure has none.
typedef struct {
    double events, total;
    uint64_t unknown;
} MembersCount;
MembersCount members_count(const CountData *data, const Indicator *indicator,
                           const MembersCell *cell, const GArray *members);

#endif
