// SPDX-License-Identifier: GPL-3.0-or-later
// Who sent what: rows received from each unit's log, month by month. A missing log looks like a
// quiet month.
#ifndef CROSSWARD_COHORT_RECEIVED_H
#define CROSSWARD_COHORT_RECEIVED_H

#include "record/finding.h"
#include "record/transfers.h"

typedef struct {
    uint16_t unit;  // keeper of the log
    uint32_t *rows; // by month; borrowed from the grid
    double usual;   // median of its months that have any row
} ReceivedUnit;

// A row whose day lies outside the months of the grid.
typedef struct {
    uint16_t file;
    uint32_t line;
} ReceivedFar;

typedef struct {
    int first;     // month of the first column: year * 12 + (month - 1)
    guint months;  // columns
    GArray *units; // of ReceivedUnit, in byte order of their codes
    uint32_t *cells;
    GArray *far; // of ReceivedFar, in row order
} Received;

// Counts the rows of t by their keeper (repeats_keeper) and local month, from the first month to
// the last that has a row. Months beyond a year or more without any row are no part of it, the part
// with the most rows is; nor are one or two rows beyond two months or more without any, if they are
// under a quarter of a month's: their dates are likely to be wrong. Free with received_free.
Received *received_count(const Transfers *t, const Network *network);
void received_free(Received *received);

typedef enum { RECEIVED_USUAL, RECEIVED_FEW, RECEIVED_NONE } ReceivedState;

// What a unit's month is: without any row, with under half of the unit's usual number, or neither.
ReceivedState received_state(const ReceivedUnit *unit, guint month);

// The longest stretch without a row that chance alone makes in 1 of 100 logs: ln(100 starts)/rate,
// for rows at random, `rate` of them in a unit of time, and so many places where it may start.
double received_longest(double starts, double rate);

// Adds a finding for each unit's month that is not as usual, and for each row far from those
// months; one a unit for all its months without any row where no more of them follow one another
// than chance makes (received_longest, by its usual number); one for all units where the first or
// the last month is so at each of them, as when a few journeys end after the logs do. units: the
// codes.
void received_say(const Received *received, const GPtrArray *units, Findings *findings);

#endif
