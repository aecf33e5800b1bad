// SPDX-License-Identifier: GPL-3.0-or-later
// Empirical Bayes: how the true values of units are spread, and what that makes of each unit's own.
#ifndef CROSSWARD_STATS_SHRINKAGE_H
#define CROSSWARD_STATS_SHRINKAGE_H

#include "stats/interval.h"

#include <stdbool.h>
#include <stddef.h>

// How true values are spread over units: beta(a, b) for proportions, gamma(shape a, rate b) for
// rates or observed/expected. pooled: the units differ by no more than chance, a and b are +Inf and
// every unit's value is the mean.
typedef struct {
    double a, b, mean;
    bool pooled;
} ShrinkagePrior;

// Maximum likelihood from k units with x[i] of n[i] events (whole numbers), or x[i] events in
// exposure t[i]; units without records are passed over; fewer than two with any: all NaN. The
// likelihood is maximised over the mean at each size of a + b (or a), where it is concave, and the
// best of its peaks over sizes from 1e-3 to 1e8 is taken (Skellam 1948, J R Stat Soc B 10:257-261;
// Gaver & O'Muircheartaigh 1987, Technometrics 29:1-15; rates: shape a from 1e-3 to 1e8).
ShrinkagePrior shrinkage_beta_binomial(const double *x, const double *n, size_t k);
ShrinkagePrior shrinkage_gamma_poisson(const double *x, const double *t, size_t k);

// Beta of a given mean and standard deviation; Gelman et al., Bayesian Data Analysis, 5.1. NaN if
// there is none.
ShrinkagePrior shrinkage_beta_moments(double mean, double sd);

// Posterior mean (a + x)/(a + b + n), or rate (a + x)/(b + t), with its central interval; *own, if
// not NULL, receives the weight of the unit's own data, n/(a + b + n) or t/(b + t), 0 to 1. No
// records: the prior itself. Pooled: the mean alone, limits equal to it, weight 0. Prior NaN: NaN.
StatsInterval shrinkage_beta_posterior(const ShrinkagePrior *prior, double x, double n,
                                       double confidence, double *own);
StatsInterval shrinkage_gamma_posterior(const ShrinkagePrior *prior, double x, double t,
                                        double confidence, double *own);

#endif
