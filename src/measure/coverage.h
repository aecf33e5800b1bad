// SPDX-License-Identifier: GPL-3.0-or-later
// Which periods the logs cover whole: growth is not who sent in logs.
#ifndef CROSSWARD_MEASURE_COVERAGE_H
#define CROSSWARD_MEASURE_COVERAGE_H

#include "measure/count.h"

typedef struct Coverage Coverage;

// Days with records in each unit's log, and in all logs together. Borrows data. Free with
// coverage_free.
Coverage *coverage_new(const CountData *data);
void coverage_free(Coverage *coverage);

// Whether the logs cover a period whole, for a unit (place in CountData.units) or the network (0).
//
// A unit's log is what it sent and recorded itself (recorded_by is the unit, or unknown): what the
// other end's log tells of it does not make up for its own. Only for a unit that has nothing of its
// own on two days or more does all that it sent stand instead. Days are missing where there is a
// run of days without a record longer than chance alone makes (received_longest): it may start
// after each of the records, which are as many as there are over the days from the first to the
// last. The days before the first record and after the last one, up to those of all records or the
// period's own, are such runs too. A period is whole if less than one in COVERAGE_DAYS of its days
// is missing. Without two days with records nothing is covered.
//
// The network's is if that holds for all logs together, taken as one, and less than one in
// COVERAGE_RECORDS of the records lacks, by what share of the days is missing from each unit's log
// and what share of all records that unit sent (a log of fewer than two days says nothing here).
enum { COVERAGE_DAYS = 10, COVERAGE_RECORDS = 20 };
bool coverage_whole(const Coverage *coverage, unsigned place, const Period *period);

// Whether all logs together, taken as one, cover a period whole, whichever units' logs lack.
bool coverage_together(const Coverage *coverage, const Period *period);

// Whether the unit's log has a record in every one of these months (CountData.periods of kind
// month, by index; guint).
bool coverage_every_month(const Coverage *coverage, unsigned place, const GArray *months);

#endif
