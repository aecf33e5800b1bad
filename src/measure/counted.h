// SPDX-License-Identifier: GPL-3.0-or-later
// Where records are counted: the sums of every indicator, in one pass over the records. Estimates,
// comparisons and series are made of these.
#ifndef CROSSWARD_MEASURE_COUNTED_H
#define CROSSWARD_MEASURE_COUNTED_H

#include "measure/tally.h"

typedef struct {
    const GPtrArray *catalogue; // of Indicator; borrowed
    CountData *data;
    Tally **tally; // by indicator
} Counted;

// The sums of each of some indicators, in their order; NULL after the last. Free each with
// tally_free, the list with g_free.
Tally **counted_tallies(const CountData *data, const GPtrArray *indicators, int threads);

// Those of a catalogue. Derived columns must be filled. The result is the same for any number of
// threads. Free with counted_free.
Counted *counted_new(const Transfers *t, const Network *network, const GPtrArray *catalogue,
                     const CountSpan *span, int threads);
void counted_free(Counted *counted);

#endif
