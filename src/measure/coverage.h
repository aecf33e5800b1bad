// SPDX-License-Identifier: GPL-3.0-or-later
// Which periods the logs cover whole: growth is not who sent in logs.
#ifndef CROSSWARD_MEASURE_COVERAGE_H
#define CROSSWARD_MEASURE_COVERAGE_H

#include "measure/count.h"

typedef struct Coverage Coverage;

// Days with records of each unit, and of all. Free with coverage_free.
Coverage *coverage_new(const CountData *data);
void coverage_free(Coverage *coverage);

// Whether the logs of a unit (place in CountData.units, 0 = the network) cover a period whole. They
// don't if a run of days without a record overlaps it that is longer than chance alone makes in 1
// of 100 such logs: ln(100 n)/(n/days), for n records at random over the days from the first to the
// last. The days before the first record and after the last one are such runs too. Without two
// days with records nothing is covered.
bool coverage_whole(const Coverage *coverage, unsigned place, const Period *period);

// Whether the unit has a record in every one of these months (CountData.periods of kind month, by
// index; guint).
bool coverage_every_month(const Coverage *coverage, unsigned place, const GArray *months);

#endif
