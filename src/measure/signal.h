// SPDX-License-Identifier: GPL-3.0-or-later
// What differs between units, or changes, by more than chance, with everything that was looked at
// allowed for; said in words.
#ifndef CROSSWARD_MEASURE_SIGNAL_H
#define CROSSWARD_MEASURE_SIGNAL_H

#include "measure/compare.h"
#include "measure/series.h"

typedef enum { SIGNAL_LEVEL, SIGNAL_TREND, SIGNAL_SHIFT, SIGNAL_POINT, SIGNAL_CHANGE } SignalKind;
typedef enum { SIGNAL_WORSE, SIGNAL_HIGHER, SIGNAL_LOWER, SIGNAL_BETTER } SignalDirection;

// estimate and reference in the scale of the indicator, and what each kind holds against what:
// level: the unit's value, the network's (adjusted: observed/expected, 1); point: the period's
// value (rare events: the gap), the centre line; shift: pooled value of the later half of the
// periods, of the earlier half (median: of the levels, change.h); trend: ratio of odds or rates a
// year, 1 (median: minutes a year, 0); change: this quarter or year, that one.
typedef struct {
    uint16_t unit; // 0 = the network
    uint16_t indicator;
    uint16_t urgency; // of a change in the network: of the patients of that urgency; 0 = all
    SignalKind kind;
    bool adjusted; // of a level
    SignalDirection direction;
    char *period;  // `all`, or the point's, or the quarter or year
    char *against; // of a change: the other one; else empty
    double estimate, reference;
    double effect, lower, upper; // of the difference or ratio, or of the level's value; NaN: none.
                                 // Of a point: the control limits that it lies beside
    double p, q;
    double worst; // of a change with p at most COMPARE_LEVEL: its p in the worst case; else NaN
    CompareRobust robust;
    double rests_on;
    char *sentence;
    const Series *series; // of a change: what it was found in
} Signal;

typedef struct {
    GPtrArray *list;    // of Signal, most important first: worse, then neither, then better; by q
    GPtrArray *levels;  // of Signal: those of units; owner
    GPtrArray *changes; // of Signal: every change test, by series; owner. Those not called a signal
                        // have COMPARE_NO_SIGNAL; only those in the list have a sentence
    GPtrArray *series;  // of Series
    uint8_t *whole;     // signal_whole
    guint periods;      // in CountData.periods
    guint unit_tests, change_tests; // p-values in the two families
    double cut;                     // p up to which a change stays a signal, the others as they are
} Signals;

// All change tests form one false-discovery family (Benjamini & Hochberg 1995): of every series its
// point, shift, trend and three steps. Those of units stand in comparisons already. Worst case of a
// change: in each period the unknown records turn out against it (worstcase.h). Free with
// signal_free.
// signal_series: the series alone, which ask nothing of the comparisons and can be made beside
// them; signal_judge: all the rest.
Signals *signal_series(const Counted *counted, double confidence, int threads);
void signal_judge(Signals *signals, const Counted *counted, const Comparisons *comparisons);
void signal_free(Signals *signals);

// Whether the logs cover a period whole (coverage.h): place in CountData.units, 0 = the network,
// and index into CountData.periods (Estimates.units and .periods have the same).
bool signal_whole(const Signals *signals, guint place, guint period);

// Words of signals.csv.
const char *signal_kind(SignalKind kind);
const char *signal_direction(SignalDirection direction);

// Group as summary.csv names it: `all` or `urgency=time-critical`. To be freed.
char *signal_group(uint16_t urgency);

#endif
