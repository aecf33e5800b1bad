// SPDX-License-Identifier: GPL-3.0-or-later
// The records by which units are judged: those of the audited span that an indicator counts and its
// `compare` column names.
#ifndef CROSSWARD_MEASURE_JUDGED_H
#define CROSSWARD_MEASURE_JUDGED_H

#include "measure/tally.h"
#include "stats/runs.h"

typedef struct {
    double events, squares;  // sum of events of a record, and of their squares
    double largest;          // most events of one record
    double total;            // records, or the rate's exposure (transfers, hours, km)
    uint64_t known, unknown; // records counted; records of which something is not known
    Runs minutes;            // durations (of a quantile)
    Runs *within;            // the same by stratum
    uint64_t *unknown_within;
    GPtrArray *room; // that durations stand in
} JudgedUnit;

typedef struct {
    const Indicator *indicator;
    guint units;      // places: those of CountData.units
    guint strata;     // of a quantile: urgencies that occur, unknown being one of them; else 0
    JudgedUnit *unit; // by place; [0]: all together
} Judged;

// Sums of a tally, and durations. Free with judged_free.
Judged *judged_gather(const CountData *data, const Indicator *indicator, const Tally *tally);
void judged_free(Judged *judged);

// Calls `each` for every record of the span that counts or is unknown, in store order.
typedef void (*JudgedEach)(void *user, size_t row, unsigned place, const CountRecord *record);
void judged_each(const CountData *data, const Indicator *indicator, JudgedEach each, void *user);

#endif
