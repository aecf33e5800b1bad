// SPDX-License-Identifier: GPL-3.0-or-later
// Ratio of two Poisson rates, (x1/t1) / (x2/t2), and their difference.
#ifndef CROSSWARD_STATS_RATIO_H
#define CROSSWARD_STATS_RATIO_H

#include "stats/interval.h"

// x1 events in exposure t1, x2 in t2 (same unit); x >= 0, t > 0; confidence two-sided, between 0
// and 1. Given x1 + x2, x1 is binomial: Przyborowski & Wilenski 1940, Biometrika 31:313-323.
// Ratios are plain numbers: x2 = 0 < x1 gives estimate and upper limit +Inf; no events at all give
// estimate NaN, limits 0 and +Inf. No exposure, negative or non-finite arguments: all NaN.

// Clopper-Pearson limits of x1 in x1 + x2, mapped by p/(1-p) t2/t1.
StatsInterval ratio_exact(double x1, double t1, double x2, double t2, double confidence);

// Mid-P limits mapped alike; Rothman, Greenland & Lash 2008, ch. 14.
StatsInterval ratio_midp(double x1, double t1, double x2, double t2, double confidence);

// exp(log ratio +- z sqrt(1/x1 + 1/x2)); limits NaN if a count is 0. Rothman et al. 2008, ch. 14.
StatsInterval ratio_wald(double x1, double t1, double x2, double t2, double confidence);

// Exact p-values for a ratio of `null` (> 0): two-sided by minimum likelihood, one-sided for a
// greater and for a smaller ratio; with mid-P (one-sided: half of the probability of what was
// seen; two-sided: twice the smaller one, at most 1). No events at all: 1.
double ratio_test(double x1, double t1, double x2, double t2, double null);
double ratio_test_greater(double x1, double t1, double x2, double t2, double null);
double ratio_test_less(double x1, double t1, double x2, double t2, double null);
double ratio_test_midp(double x1, double t1, double x2, double t2, double null);
double ratio_test_midp_greater(double x1, double t1, double x2, double t2, double null);

// z of the score test of equal rates (Gu et al. 2008, Biom J 50:283-298, W2); NaN without events.
double ratio_score_z(double x1, double t1, double x2, double t2);

// x1/t1 - x2/t2 with Wald limits, per unit of exposure; *se, if not NULL, receives the standard
// error sqrt(x1/t1^2 + x2/t2^2) (Rothman et al. 2008, ch. 14).
StatsInterval ratio_difference(double x1, double t1, double x2, double t2, double confidence,
                               double *se);

#endif
