// SPDX-License-Identifier: GPL-3.0-or-later
// How a log's times were written down, over the log as a whole: rounded minutes, stamps that repeat
// the one before, departures that nobody seems to have accepted.
#ifndef CROSSWARD_INTAKE_HABITS_H
#define CROSSWARD_INTAKE_HABITS_H

#include "intake/row.h"
#include "record/finding.h"

// Columns of fewer stamps than this are not judged. With so many, a column that passes the bound
// below has a one-sided exact binomial p under 0.001, were each minute of the hour as likely as any
// other (12 of 20 with one in five: p = 0.0001), so no other test is needed.
#define HABITS_LEAST 20

// Whether n of `total` stamps with rounded minutes, which chance makes `every`th of (5: :00, :05,
// ...; 30: :00 and :30), are a habit: then half of the stamps or more were rounded, that is,
// the share beyond chance, (n/total - 1/every) / (1 - 1/every), is at least a half (common
// practice, no source).
bool habits_rounded(size_t n, size_t total, unsigned every);

// Looks at the transfers of t from row `from` on, all of one file that has this layout and its
// heading in that line, and adds at most three findings a column: `digit-preference` (by
// habits_rounded; :00 and :30 before fives), `times-equal` (four of five stamps or more equal the
// one of the phase before that the record has; of HABITS_LEAST or more) and, where the log has such
// a column, `departed-unaccepted` (departures without acceptance: how many, the first five lines).
// Of the log as a whole: `dates-from-before` and `midnights` (in how many records, by `times`), and
// `columns-swapped`, severe: of HABITS_LEAST records or more that have two stamps, four of five or
// more are out of order and would be in order with the two exchanged, and half or more are so by
// over five minutes: two columns seem to stand in each other's place (our choice, no source).
// `keeper-unsaid`: of HABITS_LEAST records or more none says who kept the log, and all go to one
// unit, from more than one.
// Changes no transfer. Works with so many threads.
void habits_say(const Transfers *t, size_t from, const Layout *layout, const RowTimes *times,
                uint16_t file, uint32_t line, int threads, Findings *findings);

#endif
