// SPDX-License-Identifier: GPL-3.0-or-later
// Power: how likely a given change is to be seen, and how many records it takes.
#ifndef CROSSWARD_STATS_POWER_H
#define CROSSWARD_STATS_POWER_H

#include <stddef.h>

#define POWER_LEAST_ALPHA 1e-100

// alpha: two-sided level of the test, from POWER_LEAST_ALPHA to below 1. Arguments outside their
// range give NaN. Powers are proportions.

// Exact power of Fisher's two-sided mid-P test (p = twice the smaller mid-P tail given the margin,
// at most 1; Lancaster 1961, JASA 56:223-234) of p1 in n1 records against p2 in n2 (whole numbers,
// at least 1), summed over every pair of counts: all but 1e-12 of the probability is enumerated.
double power_shares(double n1, double p1, double n2, double p2, double alpha);

// Exact power of the conditional test of two Poisson rates (p = twice the smaller binomial tail
// given the sum; Przyborowski & Wilenski 1940) with events expected m1 and m2 (> 0); share1 is
// t1/(t1+t2). Of more than 10 million events the normal approximation to it.
double power_rates(double m1, double m2, double share1, double alpha);

// Power of Mann-Whitney's test with n1 and n2 values where P(X < Y) + P(X = Y)/2 = superiority:
// Noether 1987, JASA 82:645-647, its variance n1 n2 (n1 + n2 + 1)/12.
double power_ranks(double n1, double n2, double superiority, double alpha);

// P(X < Y) + P(X = Y)/2 where X is a value of the sample and Y is another value of it times
// `factor`; sorted: n >= 1 values >= 0 in ascending order. n log n at most.
double power_superiority(const double *sorted, size_t n, double factor);

// Normal approximation for n records in each group, both tails: the power that R's power.prop.test
// (strict = FALSE) gives; Fleiss, Levin & Paik 2003, ch. 4. A starting value.
double power_shares_normal(double n, double p1, double p2, double alpha);

// Smallest size n >= 1 of each group for which power(n) is at least `wanted` at n and at the nine
// sizes after it (exact powers go up and down in small steps); NaN if none is at most `most`.
double power_size(double (*power)(double n, const void *context), const void *context,
                  double wanted, double most);

#endif
