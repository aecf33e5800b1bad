// SPDX-License-Identifier: GPL-3.0-or-later
// Absences from a base: how long one and two or more were away at once, and the ratio of the two
// with limits.
#ifndef CROSSWARD_STATS_OVERLAP_H
#define CROSSWARD_STATS_OVERLAP_H

#include "stats/interval.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// Adds to one[w] the minutes of week w in which at least one of the n half-open absences [start,
// end) runs, to two[w] those with at least two. Week w is [week[w], week[w + 1]); week holds weeks
// + 1 rising minutes. An absence of no length adds nothing. False if an absence ends before it
// starts (nothing added) or memory runs out.
bool overlap_weeks(size_t n, const int64_t *start, const int64_t *end, size_t weeks,
                   const int64_t *week, double *one, double *two);

// Sum of two over sum of one (a proportion) with normal limits of the linearised ratio: r = two -
// estimate * one; the variance of sum r is n l (population variance of the n - l + 1 means of l
// weeks running), l = max(1, round(n^(1/3))); limits cut to 0..1. Estimate NaN when nothing was
// away; limits NaN under 10 weeks or when that variance is 0. Source: Cochran, Sampling Techniques
// (1977), section 2.11 (linearised ratio); Kunsch 1989 (moving blocks).
StatsInterval overlap_ratio(size_t n, const double *one, const double *two, double confidence);

#endif
