// SPDX-License-Identifier: GPL-3.0-or-later
// By how much one sample lies above another, by ranks.
#ifndef CROSSWARD_STATS_SHIFT_H
#define CROSSWARD_STATS_SHIFT_H

#include "stats/interval.h"
#include "stats/runs.h"

#include <stddef.h>

// Samples and working memory as in rank.h. All results in the unit of the values; a limit that the
// samples cannot give is NaN, and all are if the confidence is not between 0 and 1.

// Hodges & Lehmann 1963 (Ann Math Stat 34:598-611): the median of all differences x - y, with the
// ordered differences that bound the shift (rank_limit_runs; Hollander & Wolfe 1973, 4.2-4.3). n
// log n: the nx ny differences are never formed. An empty sample: NaN.
StatsInterval shift_hodges_lehmann(const double *x, size_t nx, const double *y, size_t ny,
                                   double confidence);

// The shift that goes with rank_van_elteren_runs, as if it were the same within each stratum: that
// which, taken off x, brings the test's sum to what it is by chance (Hodges & Lehmann 1963, of any
// rank statistic; Lehmann 1975, Nonparametrics, 3.3, of this one). So it is the median of all
// differences x - y within strata, each weighing 1/(nx + ny + 1) of its stratum: the middle
// between the two that are neighbours where the weights on both sides are equal. Limits: the shifts
// that the test, its variance corrected for ties, does not reject. Strata without x or without y
// take no part; if but one does, all is as of that alone.
StatsInterval shift_within_runs(const Runs *x, const Runs *y, size_t strata, double confidence);

// As this, with the normal deviate, above 0, of the confidence, which may be too near 1 to be told.
StatsInterval shift_within_deviate(const Runs *x, const Runs *y, size_t strata, double z);

#endif
