// SPDX-License-Identifier: GPL-3.0-or-later
// The one type that every estimate with limits in src/stats is returned in.
#ifndef CROSSWARD_STATS_INTERVAL_H
#define CROSSWARD_STATS_INTERVAL_H

// An estimate with its two limits, all three in the unit of the function that returns it.
// Any of them is NaN when it is undefined; a limit may be 0, 1 or +Inf where that is exact.
typedef struct {
    double estimate, lower, upper;
} StatsInterval;

#endif
