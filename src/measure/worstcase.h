// SPDX-License-Identifier: GPL-3.0-or-later
// What becomes of a unit's signal if all that is unknown turns out against it.
#ifndef CROSSWARD_MEASURE_WORSTCASE_H
#define CROSSWARD_MEASURE_WORSTCASE_H

#include "measure/casemix.h"
#include "measure/judged.h"
#include "stats/rank.h"

typedef struct {
    const Indicator *indicator;
    const Judged *judged;
    guint place;
    const Casemix *model; // of an adjusted comparison, else NULL
    double cluster;       // of a rate
    int side;             // the signal's: -1 below, 1 above
    double tau2;          // the spread it was held against, which stays
} WorstcaseUnit;

// p with the unit's unknown records turned against the signal and all other units' for it; 1 if it
// then lies on the other side. Unknown records of a share are events or not; of a rate they have
// one event or none, at the mean exposure of those known; unknown durations are shorter, or longer,
// than every known one; of an adjusted share they have their unit's mean risk, and the network's
// risks are scaled to the network's worst case.
double worstcase_p(const WorstcaseUnit *w);

// Mann-Whitney of a unit's durations against those of the rest, as known (side 0), or in the worst
// case for a signal on that side.
RankTest worstcase_ranks(const JudgedUnit *unit, const JudgedUnit *all, int side);

// Mean rank of a unit's n durations among all, of whose statistic that is, as a share of their
// number: 0.5 if they lie like the rest. *variance: by chance (Kruskal & Wallis 1952, J Am Stat
// Assoc 47:583-621; without the correction for ties, which makes it less). NaN where there are
// none.
double worstcase_mean_rank(double statistic, double n, double all, double *variance);

// Variance of one duration's rank on that scale.
double worstcase_rank_variance(double all);

// Hodges-Lehmann difference of a unit's durations from those of the rest, minutes, as known.
StatsInterval worstcase_shift(const JudgedUnit *unit, const JudgedUnit *all, double confidence);

#endif
