// SPDX-License-Identifier: GPL-3.0-or-later
// Difference of two independent proportions, x1/n1 - x2/n2.
#ifndef CROSSWARD_STATS_DIFFERENCE_H
#define CROSSWARD_STATS_DIFFERENCE_H

#include "stats/interval.h"

// x1 of n1 and x2 of n2 events, 0 <= x <= n; confidence two-sided, between 0 and 1. Results are
// differences of proportions, -1 to 1. An n of 0, x > n or a non-finite argument: all NaN.

// Square-and-add of two Wilson intervals; Newcombe 1998, Stat Med 17:873-890, method 10.
StatsInterval difference_newcombe(double x1, double n1, double x2, double n2, double confidence);

// The same of continuity-corrected Wilson intervals; method 11.
StatsInterval difference_newcombe_corrected(double x1, double n1, double x2, double n2,
                                            double confidence);

// Asymptotic score interval with variance N/(N-1); Miettinen & Nurminen 1985, Stat Med 4:213-226,
// eqs 8-9 (the restricted likelihood by Newton's method, not by their cubic, which loses half of
// the digits at its double roots); Newcombe's method 6.
StatsInterval difference_miettinen_nurminen(double x1, double n1, double x2, double n2,
                                            double confidence);

// The same without N/(N-1); Mee 1984, Biometrics 40:1175-1176; Newcombe's method 5.
StatsInterval difference_mee(double x1, double n1, double x2, double n2, double confidence);

// Unpooled normal interval, uncut; Newcombe's method 1. Only for comparison.
StatsInterval difference_wald(double x1, double n1, double x2, double n2, double confidence);

// z of the pooled two-proportion test; NaN when the pooled variance is 0 (no events, or nothing
// else). Its two-sided p: distribution_normal_two_sided.
double difference_z(double x1, double n1, double x2, double n2);

#endif
