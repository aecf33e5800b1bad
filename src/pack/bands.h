// SPDX-License-Identifier: GPL-3.0-or-later
// The limits of funnels over sizes: the same on every page, so they are made once.
#ifndef CROSSWARD_PACK_BANDS_H
#define CROSSWARD_PACK_BANDS_H

#include "measure/compare.h"

typedef struct {
    double size;
    StatsInterval wide, narrow; // 99.8 %, 95 %
} Band;

// By funnel of the comparisons: GArray of Band, sizes rising to bands_largest; empty for durations
// and where there is no centre above 0. Unref the result.
GPtrArray *bands_new(const Comparisons *comparisons);

// End of the axis of sizes: somewhat beyond the largest unit.
double bands_largest(const Comparisons *comparisons, const Funnel *funnel);

// Size of a unit: what is known or, adjusted, expected of it.
double bands_size(const Funnel *funnel, const Comparison *unit);

#endif
