// SPDX-License-Identifier: GPL-3.0-or-later
// Share of the time with someone away in which two or more were, from the records of one cell.
#ifndef CROSSWARD_MEASURE_OVERLAPPING_H
#define CROSSWARD_MEASURE_OVERLAPPING_H

#include "measure/catalogue.h"
#include "stats/interval.h"

// rows: n_rows rows of t whose duration is valid, by sending unit and start. Overlap is sought
// within each sending unit and summed over units, by the local Monday weeks from the first
// absence's start to the last one's end. A proportion with limits, see stats/overlap.h.
StatsInterval overlapping_share(const Transfers *t, const Network *network,
                                const Indicator *indicator, const uint32_t *rows, size_t n_rows,
                                double confidence);

// Edges (int64_t, UTC minutes) of the local Monday weeks that hold [from, to), UTC minutes.
GArray *overlapping_weeks(const Network *network, int32_t from, int32_t to);

#endif
