// SPDX-License-Identifier: GPL-3.0-or-later
// Observed events against those expected from the risks of each record.
#ifndef CROSSWARD_STATS_EXPECTED_H
#define CROSSWARD_STATS_EXPECTED_H

#include "stats/interval.h"

#include <stddef.h>

// observed, expected: events >= 0; results are ratios observed/expected. Nothing expected: NaN for
// nothing observed, else estimate +Inf (a fault of the model) with limits NaN. Negative or
// non-finite arguments: all NaN.

// Indirect standardisation: sum of population[i] events[i]/reference[i] over k classes, the rates
// being those of the reference population. Breslow & Day 1987, Statistical Methods in Cancer
// Research II, 2.2. NaN if a class with population has no reference.
double expected_events(const double *events, const double *reference, const double *population,
                       size_t k);

// Limits of observed as a Poisson count, expected taken as known: exact (Garwood 1936) and Byar's
// approximation (Breslow & Day 1987, p. 69: observed for the lower, observed + 1 for the upper).
StatsInterval expected_ratio(double observed, double expected, double confidence);
StatsInterval expected_ratio_byar(double observed, double expected, double confidence);

// ---- against the exact distribution of the sum of n unequal risks (poisson_binomial.h) ----

// points: P(X = k), k = 0..n.

// 2 min(P(X <= observed), P(X >= observed)), at most 1.
double expected_p(const double *points, size_t n, size_t observed);

// Limit for observed/expected at the lower-tail probability p, interpolated as funnel limits are
// ((r - a)/expected, Spiegelhalter 2005, Stat Med 24:1185-1202, A.1.1), not below 0.
double expected_limit(const double *points, size_t n, double expected, double p);

#endif
