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

// A unit's durations against those of the rest among patients of the same urgency (unknown urgency
// being one, too), as known (side 0), or in the worst case for a signal on that side.
RankStrata worstcase_ranks(const Judged *judged, guint place, int side);

// Variance of one duration's rank within its urgency, as a share of how many have that: 1/12 and a
// little more (Kruskal & Wallis 1952, J Am Stat Assoc 47:583-621; not corrected for ties).
double worstcase_rank_variance(const Judged *judged);

// The shift that goes with these ranks as known (shift_within_runs), minutes.
StatsInterval worstcase_shift(const Judged *judged, guint place, double confidence);

#endif
