// SPDX-License-Identifier: GPL-3.0-or-later
// How well risks foretold what happened: order, sharpness, and expected against observed.
#ifndef CROSSWARD_STATS_CALIBRATION_H
#define CROSSWARD_STATS_CALIBRATION_H

#include <stdbool.h>
#include <stddef.h>

// risk: n risks, 0 to 1; events[i] of trials[i] (NULL: 1 each) happened at it. Read only, in any
// order. Rows without trials count for nothing. NaN (false) for a risk that is none, or without
// memory.

// c-statistic: the chance that an event had a higher risk than a non-event, ties half (Hanley &
// McNeil 1982, Radiology 143:29-36; Harrell 2015, Regression Modeling Strategies, 10.8). NaN
// without events or without non-events. n log n.
double calibration_c_statistic(const double *risk, const double *events, const double *trials,
                               size_t n);

// Mean squared difference of outcome (0 or 1) and risk; Brier 1950, Mon Weather Rev 78:1-3.
double calibration_brier(const double *risk, const double *events, const double *trials, size_t n);

typedef struct {
    double lowest, highest, mean;    // risk
    double trials, events, expected; // expected: sum of risks
} CalibrationGroup;

// Groups of ascending risk with as near equal trials as whole rows and ties allow: equal risks
// stay together, in the group into which the first of them falls, so that there may be fewer.
// Writes at most `groups` of them and returns how many (0: no trials, or as above). Hosmer &
// Lemeshow 1980, Commun Stat A 9:1043-1069. *c_statistic, if not NULL: as above, from the same
// sorting.
size_t calibration_groups(const double *risk, const double *events, const double *trials, size_t n,
                          size_t groups, CalibrationGroup *result, double *c_statistic);

// Hosmer & Lemeshow's chi-square of those groups; its df are the groups less 2 for risks fitted to
// the same records, the groups for risks from elsewhere. NaN for no groups or an expected count of
// 0 or all.
double calibration_hosmer_lemeshow(const CalibrationGroup *groups, size_t n);

#endif
