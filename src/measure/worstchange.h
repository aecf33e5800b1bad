// SPDX-License-Identifier: GPL-3.0-or-later
// What becomes of a change if all that is unknown turns out against it.
#ifndef CROSSWARD_MEASURE_WORSTCHANGE_H
#define CROSSWARD_MEASURE_WORSTCHANGE_H

#include "measure/signal.h"

typedef struct {
    SignalKind kind;        // point, shift, trend or change
    const SeriesStep *step; // of a change
    bool up;                // the value went up
    double p;               // as things are known
} WorstchangeTest;

// p of the same test with the unknown records of each period turned against the change or for it,
// 1 if it then goes the other way or nowhere: point: that period's against it, all others' for it;
// shift (by the pooled values of either half) and trend: the later half's against it, the earlier
// half's for it; change: the two quarters' likewise. An unknown record of a share is an event or
// not; of a rate it has one event or none, at the mean exposure of the series' known records; of a
// volume it is there or not; an unknown duration is shorter, or longer, than every known one. Gaps
// between rare events: NaN, since nobody knows where one would fall. Nothing unknown: p.
double worstchange_p(const Series *series, const WorstchangeTest *test);

// Unknown records in the periods that the test uses.
double worstchange_unknown(const Series *series, const WorstchangeTest *test);

#endif
