// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of change over time, of what lies behind the comparisons, and of the wait.
#ifndef CROSSWARD_PACK_CHANGES_H
#define CROSSWARD_PACK_CHANGES_H

#include "measure/mixunits.h"
#include "measure/signal.h"
#include "measure/waiting.h"

// Each returns a whole file's text; free with g_string_free.

// changes.csv: every change test, signal or not, with its q; of those with p at most 0.05 the p in
// the worst case for what is unknown; of signals whether they are robust; beside the
// network's trends of volumes that of the units with records in every month.
GString *changes_csv(const Signals *signals, const Comparisons *comparisons);

// series.csv: the points of every chart, with centre line and limits; `whole` no: the logs don't
// cover the period whole, so it is not judged.
GString *changes_series(const Signals *signals, const Comparisons *comparisons,
                        const GArray *periods);

// mixes.csv: units by parts of each mix, with standardised residuals and the table's chi-square.
GString *changes_mixes(const GPtrArray *mixes, const Estimates *estimates);

// waits.csv: for each urgency with requests, how they had ended by how many minutes (`open`: not
// yet), the ends competing.
GString *changes_waits(const GPtrArray *waiting);

#endif
