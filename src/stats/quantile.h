// SPDX-License-Identifier: GPL-3.0-or-later
// Sample quantiles, with limits from order statistics.
#ifndef CROSSWARD_STATS_QUANTILE_H
#define CROSSWARD_STATS_QUANTILE_H

#include "stats/interval.h"
#include "stats/runs.h"
#include <stddef.h>

// sorted: n values in ascending order, read only; p: which quantile, 0 <= p <= 1; results in the
// unit of the values. n = 0 or p outside 0..1: NaN.

// Sorts values in place, ascending, in n log n at worst.
void quantile_sort(double *values, size_t n);

// Hyndman & Fan 1996 (Am Stat 50:361-365), definition 2: the smallest value with at least np
// values at or below it, the mean of two neighbours where np is whole.
double quantile_hf2(const double *sorted, size_t n, double p);

// The same of a sample in runs.
double quantile_of_runs(Runs runs, double p);

// Definition 1 (no averaging), and the linear ones: 4 to 9 (6: rank (n+1)p; 7: 1 + (n-1)p, R's
// default), of the same paper. Another number: NaN.
double quantile_hf1(const double *sorted, size_t n, double p);
double quantile_linear(const double *sorted, size_t n, double p, unsigned definition);

// Ranks (from 1) of the order statistics that bound the p-quantile with at least the confidence
// asked: qbinom(a/2, n, p) and qbinom(1-a/2, n, p) + 1; Conover 1999, Practical Nonparametric
// Statistics, 3.2; Hahn & Meeker 1991, 5.2. 0 stands for a rank that the sample cannot give.
void quantile_ranks(size_t n, double p, double confidence, size_t *lower, size_t *upper);

// Exact probability that the order statistics of these ranks (0: that side open) enclose the
// p-quantile of a continuous distribution.
double quantile_coverage(size_t n, double p, size_t lower, size_t upper);

// Definition 2 with the values at those ranks; an impossible rank leaves its limit NaN.
StatsInterval quantile_interval(const double *sorted, size_t n, double p, double confidence);
StatsInterval quantile_interval_of_runs(Runs runs, double p, double confidence);

// All ranks that such an interval takes from a sample of n, for those who look up values by rank:
// the quantile is the mean of the values at low and high, lower and upper bound it (0: none). n >
// 0.
typedef struct {
    size_t low, high, lower, upper;
} QuantileRanks;

QuantileRanks quantile_all_ranks(size_t n, double p, double confidence);

#endif
