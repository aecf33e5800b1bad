// SPDX-License-Identifier: GPL-3.0-or-later
// The durations of each cell of an indicator, in order: what quantiles and overlaps are made of.
#ifndef CROSSWARD_MEASURE_DURATIONS_H
#define CROSSWARD_MEASURE_DURATIONS_H

#include "measure/count.h"

// A cell (as TallyCell) with n durations, none of them unknown.
typedef struct {
    unsigned place, period; // in CountData.units and .periods
    int by;
    unsigned group;
    size_t n;
    const double *minutes; // rising (quantile), else NULL
    const uint32_t *rows;  // records in store order (overlap), else NULL
} DurationsCell;

// Calls `each` once for each cell that summary.csv has of the indicator, empty ones too; the lists
// live during the call only.
void durations_each(const CountData *data, const Indicator *indicator,
                    void (*each)(void *user, const DurationsCell *cell), void *user);

#endif
