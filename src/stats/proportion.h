// SPDX-License-Identifier: GPL-3.0-or-later
// Intervals and tests for one proportion x/n.
#ifndef CROSSWARD_STATS_PROPORTION_H
#define CROSSWARD_STATS_PROPORTION_H

#include "stats/interval.h"
#include <stdbool.h>

// x: events, n: of how many, 0 <= x <= n; confidence: two-sided, between 0 and 1 (0.95).
// Results are proportions. n = 0, x > n, a negative or non-finite argument: all NaN.
// Lower is exactly 0 at x = 0, upper exactly 1 at x = n.

// False for counts that no data can give (x > n, negative, not finite). 0 of 0 is possible
// (though its proportion is undefined).
bool proportion_possible(double x, double n);

// Score interval without continuity correction; Wilson 1927, Newcombe 1998 (Stat Med 17:857-872),
// method 3.
StatsInterval proportion_wilson(double x, double n, double confidence);

// Score interval with continuity correction; Newcombe 1998, method 4.
StatsInterval proportion_wilson_corrected(double x, double n, double confidence);

// Central exact interval from beta quantiles; Clopper & Pearson 1934, Newcombe 1998, method 5.
StatsInterval proportion_clopper_pearson(double x, double n, double confidence);

// Central interval that counts half of the probability of the count seen; Newcombe 1998,
// method 6. Works for n to 1e9 (beta tails, distribution.h).
StatsInterval proportion_midp(double x, double n, double confidence);

// p +- z sqrt(pq/n), uncut; Newcombe 1998, method 1. Only for comparison: it covers badly.
StatsInterval proportion_wald(double x, double n, double confidence);

// Exact binomial p-values against p0 (0..1): two-sided by minimum likelihood (outcomes no likelier
// than x, with a relative slack of 1e-7, as R's binom.test), P(X >= x) and P(X <= x), and the
// two-sided mid-P 2 min(P(X < x), P(X > x)) + P(X = x), at most 1.
double proportion_test(double x, double n, double p0);
double proportion_test_greater(double x, double n, double p0);
double proportion_test_less(double x, double n, double p0);
double proportion_test_midp(double x, double n, double p0);

// Bounds on a proportion when `missing` outcomes are unknown: estimate is x/known (NaN at
// known = 0), lower x/(known+missing), upper (x+missing)/(known+missing); Manski 1989,
// J Hum Resour 24:343-360. All NaN when known + missing = 0.
StatsInterval proportion_bounds(double x, double known, double missing);

// Interval for the proportion behind such bounds; Imbens & Manski 2004, Econometrica 72:1845-1857,
// with the standard errors of two bounds seen on all known + missing. `critical`, if not NULL,
// receives their C (z one-sided to z two-sided).
StatsInterval proportion_imbens_manski(double x, double known, double missing, double confidence,
                                       double *critical);

// Wilson lower limit of the lower bound to Wilson upper limit of the upper bound.
StatsInterval proportion_bounds_wilson(double x, double known, double missing, double confidence);

#endif
