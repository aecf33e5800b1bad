// SPDX-License-Identifier: GPL-3.0-or-later
// Which ranks a unit may have, so that no league table is read off.
#ifndef CROSSWARD_STATS_RANKING_H
#define CROSSWARD_STATS_RANKING_H

#include "stats/interval.h"

#include <stddef.h>

// Confidence for each of k intervals that hold together with the confidence asked:
// confidence^(1/k); Sidak 1967, J Am Stat Assoc 62:626-633. k = 0: NaN.
double ranking_confidence(size_t k, double confidence);

// Ranks that unit `at` of n may have, rank 1 being the greatest value: best = 1 + units whose
// interval lies wholly above its own, worst = units with an interval less those wholly below. An
// interval with a NaN limit is no interval; asked of one: 0 and 0. Simultaneous confidence of the
// intervals carries over to the ranks of all units together (Goldstein & Healy 1995, J R Stat Soc
// A 158:175-177, for the caution; definition).
void ranking_limits(const StatsInterval *intervals, size_t n, size_t at, size_t *best,
                    size_t *worst);

#endif
