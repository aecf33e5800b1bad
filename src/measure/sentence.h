// SPDX-License-Identifier: GPL-3.0-or-later
// Signals in words: one table of sentences, filled with numbers.
#ifndef CROSSWARD_MEASURE_SENTENCE_H
#define CROSSWARD_MEASURE_SENTENCE_H

#include "measure/signal.h"

// What a sentence is filled with beside the signal itself.
typedef struct {
    const Indicator *indicator;
    ChangeMeasure measure;
    const char *unit;     // name; NULL: the network, of more than one unit
    double events, total; // behind the estimate
    double unknown;       // of a level: records beside `total` of which it is not known
    double expected;      // of an adjusted level
    int side;             // of a level of durations: 1 longer, -1 shorter within urgency
    guint urgencies;      // that occur, unknown being one, too; with one, nothing is said of it
    double confidence;
    const Comparison *other; // of a level: its adjusted (or crude) counterpart, NULL: none
    const Series *series;    // of a change
} SentenceFacts;

// One or more whole sentences: what was found, with numbers, interval, q and robustness, then what
// to look at first. Never a cause. To be freed.
char *sentence_of(const Signal *signal, const SentenceFacts *facts);

// A value in words: `41 %` (base/percent.h), `2 h 05 min`, `3.2 per 100 transfers`. To be freed.
char *sentence_value(const Indicator *indicator, ChangeMeasure measure, double value);

#endif
