// SPDX-License-Identifier: GPL-3.0-or-later
// A mean of several estimates that differ by more than their own errors: DerSimonian-Laird and
// Paule-Mandel.
#ifndef CROSSWARD_STATS_POOLED_H
#define CROSSWARD_STATS_POOLED_H

#include <stddef.h>

// value[i] estimates something with the known variance[i] > 0, and the things estimated differ with
// variance tau2 about their mean. n < 1, a variance that is not positive or a value that is not
// finite: all NaN (a unit of variance 0 would have infinite weight).
typedef struct {
    double mean, se; // of the pooled value; Wald limits are mean +- z se
    double tau2;     // never negative; 0 for n = 1, where it can't be estimated
    double q;        // Cochran's Q about the mean at tau2 = 0, n - 1 degrees of freedom
    double i2;       // proportion of the variation that is not chance: max(0, (Q - df) / Q)
} PooledMean;

// tau2 from Q's first moment: DerSimonian & Laird 1986, Control Clin Trials 7:177-188, eq. 8.
PooledMean pooled_dersimonian_laird(size_t n, const double *value, const double *variance);

// tau2 at which the weighted squares about the mean are n - 1: Paule & Mandel 1982, J Res NBS
// 87:377-385; DerSimonian & Kacker 2007, Contemp Clin Trials 28:105-114, eq. 6.
PooledMean pooled_paule_mandel(size_t n, const double *value, const double *variance);

// The same root for another target: tau2 >= 0 at which sum (value - mean)^2 / (variance + tau2) is
// `target` > 0, 0 if it is less at once; looked for from `from` >= 0 on (0, or a guess). *mean, if
// not NULL, receives the mean weighted by 1 / (variance + tau2).
double pooled_tau2(size_t n, const double *value, const double *variance, double target,
                   double from, double *mean);

#endif
