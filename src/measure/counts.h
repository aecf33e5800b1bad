// SPDX-License-Identifier: GPL-3.0-or-later
// The plain counts that a report shows beside its estimates.
#ifndef CROSSWARD_MEASURE_COUNTS_H
#define CROSSWARD_MEASURE_COUNTS_H

#include "measure/cover.h"
#include "measure/crosstab.h"

typedef struct {
    Crosstab *flow;          // departures: sending unit x receiving unit
    Crosstab *months;        // records: sending unit (row, 0 = all) x month from first_month on
    Crosstab *asked, *known; // see crosstab_completeness
    Crosstab *harm;          // events: category x degree of harm (0 = not graded), near misses too
    Cover *cover;            // base cover over the whole span
    uint8_t *in;             // by record, whether it lies in the span; NULL: all do
    int first_month;         // a month is year * 12 + (month - 1), local
} Counts;

// Counts over the used records; months [first_month, end_month) are those of the report.
// span_given: they were asked for, and records outside them do not count; else all records lie in
// them. Free with counts_free.
Counts *counts_new(const Transfers *t, const Network *network, int first_month, int end_month,
                   bool span_given, double confidence);
void counts_free(Counts *counts);

#endif
