// SPDX-License-Identifier: GPL-3.0-or-later
// Growth or decline over periods: log-linear for counts, logistic for shares, with over-dispersion.
#ifndef CROSSWARD_STATS_TREND_H
#define CROSSWARD_STATS_TREND_H

#include "stats/interval.h"
#include <stddef.h>

// k periods at the times x (NULL: 1..k; need not be evenly spaced), read only. A period without
// exposure or trials is left out. All NaN for an impossible number (events below 0, without
// exposure or beyond trials), fewer than two different times, no events, nothing but events
// (shares), or no memory.
typedef struct {
    double intercept, slope; // log rate (log odds) at x = 0, and its change for a step of 1 in x
    double intercept_error, slope_error; // standard errors of the model, without over-dispersion
    double
        phi; // Pearson's chi-square over df: above 1 counts vary more than the model; NaN for df 0
    double df; // periods less 2
    double deviance, null_deviance;
    double log_likelihood; // of counts its kernel, sum of y log(mu) - mu; of shares whole
} TrendFit;

// Poisson counts with log mean = log exposure + intercept + slope x (exposure NULL: 1 each);
// McCullagh & Nelder 1989, Generalized Linear Models, 6.2; over-dispersion 4.5 and 6.2.3. Events at
// the last (first) time alone: the slope is +Inf (-Inf), its error NaN.
TrendFit trend_poisson(const double *events, const double *exposure, const double *x, size_t k);

// Shares with log odds = intercept + slope x: logistic regression of events among trials. Separated
// periods: the slope is infinite, its error NaN.
TrendFit trend_logistic(const double *events, const double *trials, const double *x, size_t k);

// exp(slope), the rate (odds) ratio for a step of 1 in x, with Wald limits from slope_error and the
// normal distribution.
StatsInterval trend_ratio(const TrendFit *fit, double confidence);

// The same with over-dispersion allowed for: the standard error times sqrt(max(1, phi)), and where
// phi is above 1, being estimated, Student's t with df (McCullagh & Nelder 1989, 4.5.2, as R's
// summary of a quasi-Poisson fit). p: two-sided, of no trend (may be NULL).
StatsInterval trend_ratio_scaled(const TrendFit *fit, double confidence, double *p);

// Score test of no trend in Poisson counts: (sum of (x - mean x) y)^2 over its variance, chi-square
// with 1 df, x averaged by exposure (McCullagh & Nelder 1989, p. 209 and app. A; with trials
// instead it is Cochran-Armitage's, table_trend). p may be NULL. NaN as above; a number with one
// lone end.
double trend_score(const double *events, const double *exposure, const double *x, size_t k,
                   double *p);

#endif
