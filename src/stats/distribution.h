// SPDX-License-Identifier: GPL-3.0-or-later
// Probability distributions: forward functions that keep their accuracy at large counts, and
// quantiles found by bracketed Newton steps, since the library's own inverses fail in ordinary use.
#ifndef CROSSWARD_STATS_DISTRIBUTION_H
#define CROSSWARD_STATS_DISTRIBUTION_H

#include <stdbool.h>

// Every function returns NaN when an argument is NaN or outside its stated range.
// Probabilities are proportions from 0 to 1. "Lower tail" is P(X <= x).

// z with P(Z <= z) = p, standard normal; -Inf at 0, +Inf at 1.
double distribution_normal_quantile(double p);

// Two-sided critical value: z with P(|Z| <= z) = confidence, for 0 < confidence < 1.
double distribution_normal_critical(double confidence);

// P(X <= x) and P(X > x) for a standard normal, and the two-sided P(|Z| >= |z|).
double distribution_normal_lower(double z);
double distribution_normal_two_sided(double z);

// P(X >= x) for a chi-square variable with df > 0 degrees of freedom (df need not be whole).
double distribution_chisq_upper(double x, double df);

// x with P(X <= x) = p for chi-square, df > 0.
double distribution_chisq_quantile(double p, double df);

// P(X <= x) and P(X > x) for a gamma variable of the given shape > 0 and scale 1. Series of DLMF
// 8.11.4 and continued fraction of 8.9.2, prefactor after Loader (2000).
double distribution_gamma_lower(double x, double shape);
double distribution_gamma_upper(double x, double shape);

// x with P(X <= x) = p for a gamma variable of the given shape > 0 and scale 1; 0 at p = 0,
// +Inf at p = 1. Relative error about 1e-13 to shape 1e6 (tests/unit/test_stats_distribution.c).
double distribution_gamma_quantile(double p, double shape);

// P(X <= x) and P(X > x) for a beta variable, a > 0, b > 0, 0 <= x <= 1. Continued fraction of
// DLMF 8.17.22 (modified Lentz), prefactor after Loader (2000), "Fast and accurate computation of
// binomial probabilities": no digits are lost at large a and b.
double distribution_beta_lower(double x, double a, double b);
double distribution_beta_upper(double x, double a, double b);

// x with P(X <= x) = p for a beta variable, a > 0, b > 0; exactly 0 at p = 0 and 1 at p = 1.
double distribution_beta_quantile(double p, double a, double b);

// Binomial: P(X = x), P(X <= x), P(X >= x); n >= 0 and x whole numbers, 0 <= p <= 1.
double distribution_binomial_point(double x, double n, double p);
double distribution_binomial_lower(double x, double n, double p);
double distribution_binomial_upper(double x, double n, double p);

// Smallest k with P(X <= k) >= p (the definition of R's qbinom); exact to n = 1e9.
double distribution_binomial_quantile(double p, double n, double prob);

// The p at which P(X > x) + P(X = x)/2 is `tail`, for 0 <= x < n and 0 < tail < 1, sought from
// `start`, 0 to 1 without the ends.
double distribution_binomial_midp(double x, double n, double tail, double start);

// Poisson: P(X = x), P(X <= x), P(X >= x), and the smallest k with P(X <= k) >= p; mean >= 0.
double distribution_poisson_point(double x, double mean);
double distribution_poisson_lower(double x, double mean);
double distribution_poisson_upper(double x, double mean);
double distribution_poisson_quantile(double p, double mean);

// Value and slope, at u, of an increasing function whose root is looked for.
typedef void (*DistributionCurve)(double u, const void *context, double *value, double *slope);

// Root of an increasing curve by Newton steps from `start`, kept inside a bracket that every step
// tightens; a step that leaves it is replaced by halving. Stops when a step is below 1e-14
// (relative to 1 + |u|), or the next one would be below 1e-16 as Newton's steps shrink. NaN if the
// curve turns NaN or 200 steps do not do.
double distribution_root(DistributionCurve curve, const void *context, double start);

#endif
