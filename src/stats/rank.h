// SPDX-License-Identifier: GPL-3.0-or-later
// Rank methods: two groups, several groups, and a trend.
#ifndef CROSSWARD_STATS_RANK_H
#define CROSSWARD_STATS_RANK_H

#include "stats/runs.h"
#include <stdbool.h>
#include <stddef.h>

// Samples are read only and in any order, or given as runs; ties are allowed. Working memory is
// freed before the return; if there is none the result is NaN throughout.

typedef enum {
    RANK_AUTO,        // exact if there are no ties and it is affordable, else normal, corrected
    RANK_EXACT,       // exact, NaN with ties (unless all values are equal)
    RANK_NORMAL,      // tie-corrected normal with continuity correction
    RANK_NORMAL_PLAIN // tie-corrected normal without continuity correction
} RankMethod;

typedef struct {
    double statistic;                // U (R's W) or S
    double z;                        // of the normal methods, else NaN
    double two_sided, greater, less; // p-values
    bool exact;
} RankTest;

// Mann & Whitney 1947, Ann Math Stat 18:50-60. statistic: the number of pairs with x > y, ties
// counted half. Exact p: twice the smaller tail, from the recursion's generating function; ties:
// Hollander & Wolfe 1973, 4.1. All values equal: U = nx ny / 2 and p = 1. An empty sample: NaN.
// RANK_AUTO is exact below 50 values a sample, as R's wilcox.test. n log n (runs: as many as there
// are), else nx ny for exact.
RankTest rank_mann_whitney(const double *x, size_t nx, const double *y, size_t ny,
                           RankMethod method);
RankTest rank_mann_whitney_runs(Runs x, Runs y, RankMethod method);

typedef struct {
    double ahead;               // sum of (U - nx ny / 2) / (nx + ny + 1); above 0: x is greater
    double z, two_sided;        // z NaN where p is exact
    double mean_rank, variance; // of x within its strata, as a share of their sizes: 0.5 if x lies
                                // like y; and by chance, without the correction for ties
} RankStrata;

// Van Elteren 1960, Bull Int Stat Inst 37:351-361 (Lehmann 1975, Nonparametrics, 3.3): x[s] against
// y[s] within each of the strata, their Mann-Whitney statistics weighted by 1/(nx + ny + 1);
// normal p, variances corrected for ties, no continuity correction. Strata without x or without y
// tell nothing and take no part; if but one does, p is that of rank_mann_whitney_runs there
// (RANK_AUTO). All values of each stratum equal: p = 1. No stratum takes part: NaN.
RankStrata rank_van_elteren_runs(const Runs *x, const Runs *y, size_t strata);

// Standard deviation of U by chance, corrected for ties; an empty sample: NaN.
double rank_sd_runs(Runs x, Runs y);

// Rank, from 1, of the ordered difference x - y that is the lower limit of a shift, 0 if there is
// none: exact below 50 values a sample, else by the tie-corrected normal (Hollander & Wolfe 1973,
// 4.3). tail: chance beyond the limit; z: normal deviate with that chance beyond it. Neither sample
// is empty.
double rank_limit_runs(Runs x, Runs y, double z, double tail);

// Sum of the mid-ranks, from 1, that a part of a sample has in it.
double rank_sum_runs(Runs part, Runs all);

typedef struct {
    double statistic, df, p;
} RankGroups;

// Kruskal & Wallis 1952 (J Am Stat Assoc 47:583-621), tie-corrected H with its chi-square p.
// group[i] is the group of values[i], 0 .. groups-1; empty groups are dropped. All values equal
// or fewer than two groups: NaN.
RankGroups rank_kruskal_wallis(const double *values, const size_t *group, size_t n, size_t groups);
RankGroups rank_kruskal_wallis_runs(Runs all, const Runs *group, size_t groups); // all: of them all

// Kendall's S of y against x (x NULL: the order given, Mann 1945, Econometrica 13:245-259) with
// tau-b and p-values. Exact only without ties (RANK_AUTO: and n below 50); the tie-corrected
// variance is Kendall & Gibbons 1990, eq. 4.4. S counts pairs one by one (n^2): for series, not for
// records. All x or all y equal, or n < 2: S = 0, the rest NaN.
RankTest rank_kendall(const double *x, const double *y, size_t n, RankMethod method, double *tau);

#endif
