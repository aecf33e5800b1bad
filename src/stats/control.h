// SPDX-License-Identifier: GPL-3.0-or-later
// Control charts: which points of a series lie beyond what chance does.
#ifndef CROSSWARD_STATS_CONTROL_H
#define CROSSWARD_STATS_CONTROL_H

#include "stats/interval.h"

#include <stdbool.h>
#include <stddef.h>

// Limits come back as an interval whose estimate is the centre line. NIST/SEMATECH e-Handbook of
// Statistical Methods, 6.3, unless another source is named. A point on a limit is not beyond it.
// Three standard errors throughout; a mean moving range is divided by d2 = 1.128 (the table value,
// exactly 2/sqrt(pi) = 1.12838). What can't be had (no records, no exposure, one value) is NaN.

// ---- shares and rates ----

// sum x / sum n over the periods with n > 0; NaN if there are none.
double control_centre(const double *x, const double *n, size_t k);

// centre +- 3 sigma_z sqrt(centre (1 - centre)/n), cut to 0..1; sigma_z = 1: p chart, else Laney's
// p'. centre +- 3 sigma_z sqrt(centre/exposure), not below 0: u chart, u'; with exposure 1 a c
// chart.
StatsInterval control_p(double centre, double n, double sigma_z);
StatsInterval control_u(double centre, double exposure, double sigma_z);

// Laney's factor: mean moving range of z over 1.128, z of x[i] of n[i] (or events x[i] in exposure
// n[i]) at the centre; periods without records are gaps. Laney 2002, Qual Eng 14:531-537. Limits
// are never narrowed with it: use max(1, sigma_z). NaN with fewer than two neighbours or centre 0
// or 1.
double control_sigma_z_p(const double *x, const double *n, size_t k, double centre);
double control_sigma_z_u(const double *x, const double *exposure, size_t k, double centre);

// Exact limits, 0.00135 each side: binomial quantiles over n, and Poisson quantiles over exposure.
StatsInterval control_p_exact(double centre, double n);
StatsInterval control_u_exact(double centre, double exposure);

// Two-sided tail of events that come in clusters, 2 min(upper, lower), at most 1: x over `cluster`
// (sum k^2 / sum k, k being events of one record, 1 or more) is held against a Poisson mean of
// expected/cluster, its tails continued between whole numbers by the gamma function as Fay & Feuer
// 1997 (Stat Med 16:791-801) do. cluster 1: exact Poisson.
double control_clustered_p(double x, double expected, double cluster);

// Limits to it: centre, and the rates at which a tail is 0.00135.
StatsInterval control_u_clustered(double centre, double exposure, double cluster);

// ---- single values ----

// Mean of |x_i - x_(i-1)|; NaN values are gaps, over which no range is taken.
double control_mean_range(const double *values, size_t n);

// Mean +- 3 mean range/1.128 (XmR). Fewer than two neighbouring values: limits NaN.
StatsInterval control_xmr(const double *values, size_t n);

// How many values lie beyond their limits (NaN values and limits are never beyond).
bool control_beyond(double value, StatsInterval limits);

// ---- rare events ----

// g chart of n gaps (cases between events, 0 legal): mean + 3 sqrt(mean (mean + 1)), lower 0.
// Benneyan 2001, Health Care Manag Sci 4:305-318. No gap: NaN.
StatsInterval control_g(const double *gaps, size_t n);

// Smallest g with P(G <= g) >= p, G geometric with that mean; 0 <= p < 1.
double control_g_quantile(double mean, double p);

// t chart: times between events >= 0 raised to 0.2777 (about 1/3.6; Nelson 1994, J Qual Technol
// 26:239-243), XmR of those, lower limit not below 0; and back again.
double control_t_transform(double time);
double control_t_back(double transformed);
StatsInterval control_t(const double *times,
                        size_t n); // on the transformed scale; NaN without memory

#endif
