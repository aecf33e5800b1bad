// SPDX-License-Identifier: GPL-3.0-or-later
// Planning: how many records or quarters until a given change of an indicator would be seen.
#ifndef CROSSWARD_MEASURE_PLANNING_H
#define CROSSWARD_MEASURE_PLANNING_H

#include "measure/count.h"

typedef enum { PLANNING_SHARE, PLANNING_RATE, PLANNING_MEDIAN } PlanningKind;

// Two periods of equal size are compared, one at `now`, one at `then`.
typedef struct {
    PlanningKind kind;
    double now, then; // a proportion; events for each unit of exposure; minutes
    double
        per_quarter; // records (share, median) or exposure (rate) of a mean quarter; NaN: not known
    double cluster;  // rate: sum k^2 / sum k of the events k of a transfer, at least 1
    double *minutes; // median: the durations at hand in ascending order; owned
    size_t n_minutes;
    double alpha;  // two-sided level
    double wanted; // power
} Planning;

// What the records of an indicator at hand say: now, per_quarter, cluster, minutes; a unit of the
// transfers, 0 = all. False and an error if it is no share, rate or quantile, or has no records.
// Clear with planning_clear.
bool planning_from(Planning *plan, const CountData *data, const Indicator *indicator, uint16_t unit,
                   GError **error);
void planning_clear(Planning *plan);

// Power with n records (or so much exposure) in each of the two periods. Shares: Fisher's mid-P
// test; rates: the conditional test, exposure divided by the cluster factor; medians: Mann-Whitney,
// the durations at hand stretched by then/now (stats/power.h). n = 0: NaN.
double planning_power(const Planning *plan, double n);

// Smallest whole n in each period with the power wanted (power_size); NaN if a million do not do.
double planning_needed(const Planning *plan);

// The values nearest to `now`, below and above, that n records in each period would show with the
// power wanted, found by halving; NaN where none does.
void planning_visible(const Planning *plan, double n, double *down, double *up);

#endif
