// SPDX-License-Identifier: GPL-3.0-or-later
// Counting: what one indicator comes to for one unit, period and group.
#ifndef CROSSWARD_MEASURE_COUNT_H
#define CROSSWARD_MEASURE_COUNT_H

#include "measure/estimate.h"

typedef struct {
    bool given;
    int first, end; // months of the audited span, half-open
} CountSpan;

typedef struct CountData CountData;

typedef struct {
    uint16_t unit, period;
    FieldId by;
    uint16_t group;
    uint64_t events, total, unknown; // records
    double sum, squares, largest;    // of numbers of events, or of hours
    double exposure;
    uint64_t *part;  // of a mix, by code or unit
    GArray *minutes; // int32_t durations, rising
    GArray *rows;    // uint32_t records behind them, in store order (overlap)
} CountCell;

CountData *count_data_new(const Transfers *t, const Network *network, const CountSpan *span);
void count_data_free(CountData *data);
GArray *count_periods(CountData *data); // of Period
GArray *count_units(CountData *data);   // of uint16_t, 0 first
const GArray *
count_codes(CountData *data,
            FieldId by); // uint16_t codes that occur, in print order, unknown (0) last

// Parts of a mix in print order, uint16_t: all codes of its field, or the units that occur. Empty
// for other measures.
GArray *count_parts(CountData *data, const Indicator *indicator);

// Works out, for each record, what it adds to the indicator; then count_cell sums a cell up (its
// unit, period, by and group are given) and count_estimate fills a row from it. count_clear frees a
// cell's lists.
void count_prepare(CountData *data, const Indicator *indicator);
void count_cell(const CountData *data, const Indicator *indicator, CountCell *cell);
void count_estimate(const CountData *data, const Indicator *indicator, const CountCell *cell,
                    Estimate *row, double confidence);
void count_clear(CountCell *cell);

#endif
