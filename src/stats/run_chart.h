// SPDX-License-Identifier: GPL-3.0-or-later
// Runs about a median: has a series shifted?
#ifndef CROSSWARD_STATS_RUN_CHART_H
#define CROSSWARD_STATS_RUN_CHART_H

#include <stdbool.h>
#include <stddef.h>

enum { RUN_CHART_FEWEST = 10 }; // useful points below which nothing is said

typedef struct {
    double median;    // of the values; NaN without any
    size_t useful;    // points not on the median; those on it and NaN are passed over
    size_t longest;   // most useful points running on one side
    size_t crossings; // times that the next useful point lies on the other side
    size_t above;     // of the useful ones
} RunChart;

// values: n numbers in order of time (NaN: a gap). Mean of the two middle ones for an even number.
// Anhoj & Olesen 2014, PLoS ONE 9:e113825. All zero with median NaN if memory runs out.
RunChart run_chart(const double *values, size_t n);

// The same about a given line (the median of an earlier stretch, say).
RunChart run_chart_about(const double *values, size_t n, double line);

// round(log2 n + 3): a run is long that is longer than this. qbinom(0.05, n - 1, 1/2): crossings
// are few that are fewer. NaN for n = 0. Anhoj & Olesen 2014.
double run_chart_longest_limit(size_t useful);
double run_chart_crossings_limit(size_t useful);

// 1 if either rule speaks, 0 if none does, NaN below RUN_CHART_FEWEST useful points.
double run_chart_signal(const RunChart *chart);

// For n useful points that fall on either side of a line known beforehand like a fair coin:
// P(longest run >= length), P(crossings <= c), and P(longest run > longest or crossings <
// crossings), exactly, by recursion over points. n < 1: NaN, as when memory runs out.
double run_chart_p_longest(size_t n, size_t length);
double run_chart_p_crossings(size_t n, size_t crossings);
double run_chart_p_either(size_t n, size_t longest, size_t crossings);

// p of a shift: min(1, 2 min(P(a run at least as long), P(crossings as few))), every order of the
// useful points being as likely, given how many lie on either side: Wald & Wolfowitz 1940, Ann Math
// Stat 11:147-162, and Mosteller 1941, ibid. 12:228-232 (whose sides are equal). A fair coin would
// not do here: where many points lie on the median (no event in more than half of the months, say),
// all others may lie on one side of it. NaN below RUN_CHART_FEWEST useful points.
double run_chart_p(const RunChart *chart);

#endif
