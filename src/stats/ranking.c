// SPDX-License-Identifier: GPL-3.0-or-later
// Limits of ranks from simultaneous intervals.
#include "stats/ranking.h"

#include <math.h>
#include <stdbool.h>

double ranking_confidence(size_t k, double confidence) {
    return k == 0 ? NAN : pow(confidence, 1 / (double)k);
}

static bool known(StatsInterval i) {
    return !isnan(i.lower) && !isnan(i.upper);
}

void ranking_limits(const StatsInterval *intervals, size_t n, size_t at, size_t *best,
                    size_t *worst) {
    *best = *worst = 0;
    if (!known(intervals[at]))
        return;
    *best = 1;
    for (size_t i = 0; i < n; i++) {
        if (!known(intervals[i]))
            continue;
        *best += intervals[i].lower > intervals[at].upper;
        *worst += !(intervals[i].upper < intervals[at].lower);
    }
}
