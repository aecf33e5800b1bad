// SPDX-License-Identifier: GPL-3.0-or-later
// Every measure over time, with what tests say of it: the network by month, units by quarter.
#ifndef CROSSWARD_MEASURE_SERIES_H
#define CROSSWARD_MEASURE_SERIES_H

#include "measure/counted.h"
#include "measure/coverage.h"
#include "stats/change.h"

// P: share; U: rate or volume; XMR: median; G: cases between two events, T: days between them, of
// the network where a share or rate has less than one event a month on average.
typedef enum { SERIES_P, SERIES_U, SERIES_XMR, SERIES_G, SERIES_T } SeriesChart;

enum { SERIES_TESTS = 6 }; // in this order: point, shift, trend, and three steps

// value, limits and the model's centre are proportions, events per the rate's scale, minutes, or
// records a week; of G cases, of T days.
typedef struct {
    guint period; // index into CountData.periods (Estimates.periods has the same); G, T: 0
    int32_t day;  // G, T: local day of the event that ends the gap
    double value, lower, upper;
    bool whole;      // covered whole by the logs (coverage.h); else shown, marked, not judged
    bool beyond;     // outside its limits
    ChangeCell cell; // what it was made of
} SeriesPoint;

// One quarter or year against another.
typedef struct {
    guint now, then; // periods; 0: there is no such pair
    double spread;   // between years: what was allowed for (change_spread); else 0
    ChangeStep step;
    ChangeCell now_cell, then_cell;
} SeriesStep;

typedef struct {
    uint16_t indicator; // index into the catalogue
    uint16_t unit;      // 0 = the network (then months), else quarters
    uint16_t urgency;   // of the network: code of the patients that it is of; 0 = all
    SeriesChart chart;
    ChangeMeasure measure;
    double per_year;
    GArray *points;    // of SeriesPoint: periods
    GArray *gaps;      // of SeriesPoint: of a G or T chart, else NULL
    ChangeModel model; // centre line: model.centre
    double p_point;
    guint at;     // the most extreme point, in gaps if there are any, else in points
    bool longer;  // G, T: it is a long gap
    RunChart run; // of the whole periods' values, as they are drawn
    double longest_limit, crossings_limit, run_signal; // of it, see stats/run_chart.h
    RunChart levels; // of their levels (change_levels), as they are judged
    double p_shift;
    int side; // of the median on which more points of the later half lie
    double earlier,
        later; // pooled value (median: of the levels) of either half of the whole periods
    ChangeTrend trend;
    ChangeTrend steady_trend; // of a volume: of the units with records in every month alone
    guint steady_units;       // how many those are; 0 where it is no volume
    SeriesStep quarter,
        year_ago;               // the last whole quarter against the one before, and a year before
    SeriesStep year;            // the last whole audit year against the one before
    double worst[SERIES_TESTS]; // p of each test in the worst case (signal.h)
} Series;

typedef struct {
    const Counted *counted;
    const Coverage *coverage;
    double confidence;
    int threads;
} SeriesSource;

// Called, on the thread that made it, with each series while its cells still have their durations:
// after that they are gone, since they take the room of the records.
typedef void (*SeriesDone)(Series *series, void *user);

// The network: every indicator that has series; of durations and shares of departures in time that
// the catalogue breaks down by urgency also one for the patients of each urgency that occurs.
// Units: those they are judged by (on the same records), and counts. Within the audited span;
// quarters before it serve as what the last one is held against. GPtrArray of Series, by catalogue,
// network first, then urgencies, then units. Free with g_ptr_array_unref.
GPtrArray *series_all(const SeriesSource *source, SeriesDone done, void *user);

// Pooled value of the whole periods [from, to) of a series, as in `earlier` and `later`.
double series_pooled(const ChangeSeries *series, size_t from, size_t to);

// As a ChangeSeries: cells in *cells, to be freed with g_free.
ChangeSeries series_cells(const Series *series, ChangeCell **cells);

// Gives a ChangeSeries its levels, to be freed with g_free.
double *series_levels(ChangeSeries *series);

#endif
