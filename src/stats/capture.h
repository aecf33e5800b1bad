// SPDX-License-Identifier: GPL-3.0-or-later
// How many there were in all, from two lists and what they share.
#ifndef CROSSWARD_STATS_CAPTURE_H
#define CROSSWARD_STATS_CAPTURE_H

#include "stats/interval.h"

// n1, n2: on each list; both: on both, 0 <= both <= min(n1, n2). Results are counts. An impossible
// argument, or an empty list: NaN. With both = 0 Chapman is finite but unreliable: flag it.

// (n1+1)(n2+1)/(both+1) - 1; Chapman 1951, Univ Calif Publ Stat 1:131-160.
double capture_chapman(double n1, double n2, double both);

// n1 n2 / both, +Inf at both = 0; Petersen 1896, Lincoln 1930.
double capture_lincoln_petersen(double n1, double n2, double both);

// Variance of Chapman's estimate; Seber 1970, Biometrics 26:13-22. 0 when one list holds the other.
double capture_variance(double n1, double n2, double both);

// Chapman's estimate with limits: normal; log-normal for those on neither list (Burnham et al.
// 1987, p. 212; limits NaN at variance 0); and transformed logit (Sadinle 2009, Commun Stat
// Simul Comput 38:1909-1924, eq. 3), which covers best.
StatsInterval capture_wald(double n1, double n2, double both, double confidence);
StatsInterval capture_log_normal(double n1, double n2, double both, double confidence);
StatsInterval capture_logit(double n1, double n2, double both, double confidence);

// Share of Chapman's estimate that is on either list, with the transformed-logit limits turned
// into shares (proportions).
StatsInterval capture_ascertainment(double n1, double n2, double both, double confidence);

#endif
