// SPDX-License-Identifier: GPL-3.0-or-later
// What becomes of a change if all that is unknown turns out against it.
#ifndef CROSSWARD_MEASURE_WORSTCHANGE_H
#define CROSSWARD_MEASURE_WORSTCHANGE_H

#include "measure/signal.h"

typedef struct {
    SignalKind kind;        // point, shift, trend or change
    const SeriesStep *step; // of a change
    bool up;                // the value went up
} WorstchangeTest;

// p of the same test with unknown records as in worstcase.h, 1 if the change then goes the other
// way: point: that period's against it, all others' for it; shift and trend: the later half's
// against it, the earlier half's for it; change: the two quarters' likewise. Gaps between rare
// events: NaN unless nothing is unknown.
double worstchange_p(const Series *series, const WorstchangeTest *test);

// Unknown records in the periods that the test uses.
double worstchange_unknown(const Series *series, const WorstchangeTest *test);

#endif
