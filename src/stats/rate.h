// SPDX-License-Identifier: GPL-3.0-or-later
// Intervals and tests for one rate: events over an exposure.
#ifndef CROSSWARD_STATS_RATE_H
#define CROSSWARD_STATS_RATE_H

#include "stats/interval.h"
#include <stdbool.h>

// x: events >= 0; exposure > 0 in any unit; confidence two-sided, between 0 and 1.
// Results are events per one unit of exposure (scale them yourself). No exposure, a negative or
// non-finite argument: all NaN. Lower is exactly 0 at x = 0.

// False for what no data can give: events without exposure, negatives, non-finite numbers. 0 events
// in exposure 0 is possible (though its rate is undefined).
bool rate_possible(double x, double exposure);

// Exact central Poisson limits chi2(a/2; 2x)/2 and chi2(1-a/2; 2x+2)/2; Garwood 1936,
// Biometrika 28:437-442.
StatsInterval rate_garwood(double x, double exposure, double confidence);

// As Garwood, with half of the probability of the count seen; Cohen & Yang 1994, Stat Med
// 13:2189-2210.
StatsInterval rate_midp(double x, double exposure, double confidence);

// Byar's approximation with x for the lower and x + 1 for the upper limit; Breslow & Day 1987,
// Statistical Methods in Cancer Research II, p. 69. (Another form uses x + 1/2 in both.)
StatsInterval rate_byar(double x, double exposure, double confidence);

// Gamma limits for a weighted sum of Poisson counts; Fay & Feuer 1997, Stat Med 16:791-801.
// y: sum of the weights k (events per transfer, or hours), v: sum of k^2, w: largest k.
// Callers counting events pass w of at least 1, and y = v = 0 then gives Garwood's limits for 0.
// v = 0 and w = 0: lower 0, upper NaN. Equal to Garwood when v = y and w = 1.
StatsInterval rate_fay_feuer(double y, double v, double w, double exposure, double confidence);

// Two-sided exact p-values of x events against an expected number: twice the smaller tail (at most
// 1), minimum likelihood (R's poisson.test), and twice the smaller mid-P tail.
double rate_test(double x, double expected);
double rate_test_likelihood(double x, double expected);
double rate_test_midp(double x, double expected);

#endif
