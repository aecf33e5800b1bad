// SPDX-License-Identifier: GPL-3.0-or-later
// Periods' durations held against each other within strata, so that a period with more records of a
// slow stratum is not called slow. Of one stratum alone, all is as without any.
#ifndef CROSSWARD_STATS_STRATA_H
#define CROSSWARD_STATS_STRATA_H

#include "stats/change.h"
#include "stats/rank.h"

// Cells are those of medians. Without working memory results are NaN.

// Whether a period has any durations, and their median, of all strata together.
bool strata_any(const ChangeCell *cell);
double strata_median(const ChangeCell *cell);

// The median of several lists of runs together; NaN if there are none.
double strata_middle(const Runs *part, size_t parts);

// A period of the series against all others that take part, and one period against another, by van
// Elteren's test (rank.h).
RankStrata strata_against(const ChangeSeries *series, const ChangeCell *cell);
RankStrata strata_between(const ChangeCell *now, const ChangeCell *then);

// The shift that goes with the latter (shift.h), at a confidence, or at the deviate of one.
StatsInterval strata_shift(const ChangeCell *now, const ChangeCell *then, double confidence);
StatsInterval strata_shift_deviate(const ChangeCell *now, const ChangeCell *then, double z);

// Medians aligned on the strata, NaN for a period that takes no part: level[i] is the median of
// period i's durations, each less its stratum's median over all periods, plus the median of all
// durations. Whatever the mix of strata, as many durations lie above their stratum's median as
// below it where nothing changes. Aligning before ranking: Hodges & Lehmann 1962 (Ann Math Stat
// 33:482-497; from memory), with the median for the mean. Of one stratum: its medians.
void strata_levels(const ChangeSeries *series, double *level);

// By what factor periods' sums of ranks within strata, weighted and standardised as van Elteren
// does, range more than by chance (control_mean_range over 1.128; of one stratum: mean ranks,
// standardised as Kruskal and Wallis do, 1952, J Am Stat Assoc 47:583-621); ties corrected.
double strata_spread(const ChangeSeries *series);

#endif
