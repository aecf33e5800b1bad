// SPDX-License-Identifier: GPL-3.0-or-later
// Tests that groups of partly censored times come from one curve.
#ifndef CROSSWARD_STATS_LOGRANK_H
#define CROSSWARD_STATS_LOGRANK_H

#include <stdbool.h>
#include <stddef.h>

// n subjects in any order, read only: time >= 0, whether it ended in the event, group 0 ..
// groups-1, and stratum 0 .. strata-1 (NULL: one stratum; groups are compared within strata only).
typedef struct {
    const double *times;
    const bool *event;
    const size_t *group, *stratum;
    size_t n, groups, strata;
} LogrankData;

typedef enum {
    LOGRANK_EQUAL, // log-rank: each event counts the same (Mantel 1966; Peto & Peto 1972)
    LOGRANK_GEHAN, // weight: number at risk (Gehan 1965, Biometrika 52:203-223; Breslow 1970)
    LOGRANK_PETO   // weight: pooled survival just before (Peto & Peto; Harrington & Fleming, rho 1)
} LogrankWeight;

typedef struct {
    double statistic, df, p;
} LogrankTest;

// Chi-square of weighted observed less expected events with the hypergeometric variance, tied times
// taken together; Klein & Moeschberger 2003, Survival Analysis, 7.3 (7.5 for strata). Groups in
// which no event is expected, or that never face another, are dropped from the df. observed,
// expected: groups numbers each, weighted (NULL: not wanted); variance: of observed[0] -
// expected[0] (NULL: not wanted). NaN for fewer than two groups, no events, an impossible time, or
// no memory. n log n + times x groups^2.
LogrankTest logrank_test(const LogrankData *data, LogrankWeight weight, double *observed,
                         double *expected, double *variance);

// Gehan's test of two groups with the permutation variance (Mantel 1967, Biometrics 23:65-78): z of
// group 0, positive where it is the longer lived. NaN as above, and unless there are two groups. n
// log n.
double logrank_gehan_permutation(const LogrankData *data);

#endif
