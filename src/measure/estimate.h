// SPDX-License-Identifier: GPL-3.0-or-later
// The table of estimates: one row an indicator, unit, period and group. Every output is drawn from
// it.
#ifndef CROSSWARD_MEASURE_ESTIMATE_H
#define CROSSWARD_MEASURE_ESTIMATE_H

#include "measure/counted.h"

typedef struct {
    uint16_t indicator; // index into the catalogue
    uint8_t quantile;   // of a quantile: 0 to 3 for p25, median, p75, p90
    bool suppressed;    // hidden in a release (disclosure/hiding.h): it holds no number
    uint16_t part;      // of a mix: code of its part; 0 otherwise
    uint16_t unit;      // index into transfers' units, 0 = all
    uint16_t period;    // index into periods
    FieldId by;         // field broken down by, FIELD_COUNT = not
    uint16_t group;     // code or unit of that field, 0 = unknown
    uint64_t unknown;
    double events, total; // NaN where the measure has none
    double records;       // that a rate's exposure is of; NaN otherwise, and where it is of weeks
    double estimate, lower, upper;
    double if_none, if_all; // of a share: if none, if all of the unknown were events; NaN otherwise
} Estimate;

typedef struct {
    const GPtrArray *catalogue; // of Indicator; borrowed
    const Transfers *t;         // borrowed
    GArray *periods;            // of Period
    GArray *units; // uint16_t: 0 (all), then the sending units in byte order of their codes
    GArray *rows;  // of Estimate, in print order
    double confidence;
    int threads; // that may work on outputs
} Estimates;

typedef struct {
    double confidence;
    bool has_span;            // --period was given
    int span_first, span_end; // its months, half-open
    int threads;              // how many to use; the result is the same for any number
} EstimateSettings;

// Puts limits on every count. Free with estimate_free.
Estimates *estimate_counted(const Counted *counted, const EstimateSettings *settings);

// Counts every indicator over the used transfers first.
Estimates *estimate_all(const Transfers *t, const Network *network, const GPtrArray *catalogue,
                        const EstimateSettings *settings);
void estimate_free(Estimates *e);

// Words of a row as summary.csv writes them. measure, method: literals. group: to be freed.
const char *estimate_measure(const Estimates *e, const Estimate *row);
const char *estimate_method(const Estimates *e, const Estimate *row);
char *estimate_group(const Estimates *e, const Estimate *row);

#endif
