// SPDX-License-Identifier: GPL-3.0-or-later
// The catalogue of indicators: the built-in one, extended or overridden by a network's own.
#ifndef CROSSWARD_MEASURE_CATALOGUE_H
#define CROSSWARD_MEASURE_CATALOGUE_H

#include "record/condition.h"

typedef enum {
    MEASURE_SHARE,
    MEASURE_RATE,
    MEASURE_QUANTILE,
    MEASURE_MIX,
    MEASURE_COUNT,
    MEASURE_HOURS,
    MEASURE_OVERLAP
} Measure;

typedef enum { EXPOSURE_TRANSFERS, EXPOSURE_HOURS, EXPOSURE_KM, EXPOSURE_WEEKS } Exposure;

#define CATALOGUE_MOST_BY 8

typedef struct {
    char *name, *title, *note, *better, *compare;
    Measure measure;
    Condition *events; // of a share or rate; NULL if not given
    char *among_text, *events_text;
    Condition *among;
    Condition *judged; // of `compare`: true of all if that is empty
    FieldId field;     // of a mix; FIELD_events means one for each adverse event
    FieldId from, to;  // of a duration, and of a rate's hours
    Exposure exposure; // of a rate
    double per;        // of a rate: estimates are for so much exposure
    char *scale;       // as summary.csv names it
    FieldId by[CATALOGUE_MOST_BY];
    unsigned n_by;
} Indicator;

// Whether units are judged by the indicator: it names records, and is a share, a rate or a duration
// whose exposure is not calendar time.
bool catalogue_judges(const Indicator *indicator);

// Catalogue of the built-in indicators and those of the network's folder. GPtrArray of Indicator. A
// mistake is an error that names file, line and word.
GPtrArray *catalogue_load(const Network *network, GError **error);

#endif
