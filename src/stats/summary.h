// SPDX-License-Identifier: GPL-3.0-or-later
// Mean, standard deviation and lag-1 autocorrelation without loss of digits.
#ifndef CROSSWARD_STATS_SUMMARY_H
#define CROSSWARD_STATS_SUMMARY_H

#include <stddef.h>

// values: n numbers, read only; results in their unit.

// Mean, with the mean of the residuals added back; NaN for n = 0.
double summary_mean(const double *values, size_t n);

// Standard deviation with n - 1, corrected two-pass sum of squares; Chan, Golub & LeVeque 1983,
// Am Stat 37:242-247. NaN for n < 2.
double summary_sd(const double *values, size_t n);

// sum (x_i - m)(x_(i+1) - m) / sum (x_i - m)^2, as NIST StRD certifies it; NaN for n < 2 or a
// constant series.
double summary_autocorrelation(const double *values, size_t n);

#endif
