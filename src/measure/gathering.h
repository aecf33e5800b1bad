// SPDX-License-Identifier: GPL-3.0-or-later
// Records of one indicator added up by period: what series over time are made of.
#ifndef CROSSWARD_MEASURE_GATHERING_H
#define CROSSWARD_MEASURE_GATHERING_H

#include "measure/coverage.h"
#include "measure/tally.h"
#include "stats/change.h"

// What is alike for all indicators. Periods are guint: indices into CountData.periods.
typedef struct {
    const CountData *data;    // borrowed
    const Coverage *coverage; // borrowed
    GArray *months, *quarters, *years;
    GArray *urgencies; // uint16_t: known codes that occur
} GatheringFrame;

GatheringFrame *gathering_frame_new(const CountData *data, const Coverage *coverage);
void gathering_frame_free(GatheringFrame *frame);

// One indicator in lines: 0: the network by month; a place in CountData.units: that unit by
// quarter, of the records that it is judged by; further ones: the network's patients of one urgency
// by month.
typedef struct Gathering {
    const GatheringFrame *frame;
    const Indicator *in;
    const Tally *tally; // borrowed
    ChangeMeasure measure;
    int by; // urgency's place in in->by; -1: no lines of urgencies
    guint lines;
    size_t strata;   // of durations: urgencies that occur, unknown being one, too
    Runs **within;   // of durations: by line of all urgencies, by period and stratum; else NULL
    double **open;   // likewise: records whose duration is not known
    double **median; // of durations: by line of all urgencies, by period
    GPtrArray *kept; // what durations stand in; a reference keeps them
} Gathering;

// Takes an indicator, which is a share, rate, duration or count, out of a tally of it, and its
// durations out of the records. Free with gathering_free.
Gathering *gathering_new(const GatheringFrame *frame, const Indicator *indicator,
                         const Tally *tally);
void gathering_free(Gathering *gathering);

// Of a line: its unit's place (0: the network), its urgency (0: any), its periods.
unsigned gathering_place(const GatheringFrame *frame, guint line);
uint16_t gathering_urgency(const GatheringFrame *frame, guint line);
const GArray *gathering_periods(const GatheringFrame *frame, guint line);

// A line's cell of one of its periods or of a longer one, quarter or year. Its minutes last as
// long as `kept`, those within strata as long as the gathering; a line of one urgency has no
// strata.
ChangeCell gathering_cell(const Gathering *gathering, guint line, guint period);

// Records of a unit counted in a month (of a count).
double gathering_in_month(const Gathering *gathering, unsigned place, guint month);

#endif
