// SPDX-License-Identifier: GPL-3.0-or-later
// Number of events among independent trials that each have their own probability.
#ifndef CROSSWARD_STATS_POISSON_BINOMIAL_H
#define CROSSWARD_STATS_POISSON_BINOMIAL_H

#include <stdbool.h>
#include <stddef.h>

// Exact by convolution (Hong 2013, Comput Stat Data Anal 59:41-51, sec. 2.5): one trial at a time,
// and the parts that many trials are halved into by their pairs; p: n probabilities, 0..1. Work
// grows as the variance times the logarithm of n.

// points[k] = P(X = k), k = 0..n (n + 1 places, the caller's). False if a p is not a probability or
// memory runs out.
bool poisson_binomial_points(const double *p, size_t n, double *points);

// The same where only the middle matters: all below `least` at either end is left away, and what
// that takes from other points is no more than n^2 times least.
bool poisson_binomial_part(const double *p, size_t n, double least, double *points);

// P(X <= k), P(X >= k), from points; k beyond n is allowed.
double poisson_binomial_lower(const double *points, size_t n, size_t k);
double poisson_binomial_upper(const double *points, size_t n, size_t k);

// Two-sided mid-P of seeing k: twice the smaller of P(X < k) and P(X > k), plus P(X = k), at
// most 1.
double poisson_binomial_midp(const double *points, size_t n, size_t k);

// Smallest k with P(X <= k) >= q, 0 <= q <= 1; n if rounding leaves none.
size_t poisson_binomial_quantile(const double *points, size_t n, double q);

#endif
