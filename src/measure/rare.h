// SPDX-License-Identifier: GPL-3.0-or-later
// Charts of rare events: each gap between two of them a point.
#ifndef CROSSWARD_MEASURE_RARE_H
#define CROSSWARD_MEASURE_RARE_H

#include "measure/series.h"

// Whether a share or rate of the network has less than one event a month, and events enough for a
// chart of gaps (change.h).
bool rare_is(const Series *series);

// Fills the series' gaps and its point test by those of a g chart (share: cases between events) or
// a t chart (rate: days between events; its limits are taken back from the transformed scale):
// records by local day, in store order within one. model.centre becomes that of the gaps; shift,
// trend and steps stay those of the periods.
void rare_chart(const CountData *data, const Indicator *indicator, Series *series);

#endif
