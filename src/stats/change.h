// SPDX-License-Identifier: GPL-3.0-or-later
// Change over time of one measure: points beyond chart limits, shifts, trends, one period against
// another.
#ifndef CROSSWARD_STATS_CHANGE_H
#define CROSSWARD_STATS_CHANGE_H

#include "stats/interval.h"
#include "stats/run_chart.h"
#include "stats/runs.h"

#include <stdbool.h>
#include <stddef.h>

// A share (events of total records), a rate (events in an exposure `total`, in clusters), a volume
// (events in a time `total`: a rate whose events come one by one, with what over-dispersion the
// periods show), or a median (durations).
typedef enum { CHANGE_SHARE, CHANGE_RATE, CHANGE_VOLUME, CHANGE_MEDIAN } ChangeMeasure;

// One period. whole false: the records do not cover it whole; it takes no part in any test.
typedef struct {
    double events, total;         // of a median: total durations
    double squares;               // of a rate: sum of the squared events of each record
    double records;               // of a rate
    Runs minutes;                 // of a median: durations; none need be there beside `within`
    double median;                // of all those within, where minutes are not there
    double unknown;               // records of which it is not known
    size_t strata;                // of a median: how many strata there are; alike for all periods
    const Runs *within;           // the durations by stratum; NULL: all are of one
    const double *unknown_within; // unknown, by stratum
    bool whole;
} ChangeCell;

typedef struct {
    ChangeMeasure measure;
    const ChangeCell *cell;
    size_t k;            // periods, in order of time, evenly spaced
    double per_year;     // how many periods make a year
    const double *level; // change_levels of it; NULL: worked out whenever a test needs them
} ChangeSeries;

// Events over total, or the median (quantile_hf2); NaN for an empty period.
double change_value(ChangeMeasure measure, const ChangeCell *cell);

// ---- the chart ----

// What limits are drawn with. Shares p, rates and volumes u, medians XmR (control.h). Exact limits
// (0.00135 each side; rates: with their clusters) where n p (1 - p), or the expected events, are
// below 10, else three standard errors times sigma: Laney's factor, at least 1, of a rate at least
// sqrt(cluster).
typedef struct {
    double centre, sigma, cluster;
    StatsInterval xmr; // of medians
    size_t periods;    // whole ones with records
    double df;         // of sigma: 0.62 (periods - 1), the effective degrees of freedom of a mean
               // moving range (Wheeler 1995, Advanced Topics in SPC, table 4.2; from memory)
} ChangeModel;
ChangeModel change_model(const ChangeSeries *series);

StatsInterval change_limits(const ChangeSeries *series, const ChangeModel *model,
                            const ChangeCell *cell);

// Two-sided tail of one period (a cell of the series) under the model that drew its limits: exact,
// or Student's t on the model's df, since sigma is estimated (normal where sigma is 1). Of a median
// not less than p of its durations against those of all other periods within strata (strata.h): the
// chart has one spread for all, and a median of few records varies more
// (tests/simulation/change_sim.c), and with the mix of strata, too. 1 where these ranks lie on the
// other side, or no other period has its strata. NaN for a period that takes no part.
double change_tail(const ChangeSeries *series, const ChangeModel *model, const ChangeCell *cell);

// p of the most extreme point: min(1, periods x its two-sided tail). *at receives its index. NaN
// with fewer than CHANGE_FEWEST periods, of medians fewer than CHANGE_FEWEST_MEDIANS.
enum { CHANGE_FEWEST = 4, CHANGE_FEWEST_MEDIANS = 12 };
double change_point(const ChangeSeries *series, size_t *at);

// What shifts and trends are of, series->k values, NaN for a period that takes no part:
// change_value, of medians aligned on the strata (strata_levels).
void change_levels(const ChangeSeries *series, double *level);

// p of a shift: run_chart_p of the levels; *chart (may be NULL) receives the counts. *side: on
// which side of the median the latest useful points run.
double change_shift(const ChangeSeries *series, RunChart *chart, int *side);

// ---- trend ----

typedef struct {
    StatsInterval ratio; // a year: odds ratio (share), rate ratio; of a median minutes a year
                         // (Theil-Sen, limits from the order of the slopes)
    double p;
    size_t periods;
} ChangeTrend;

// Logistic or Poisson with over-dispersion (trend.h; a rate's events and exposure over its
// cluster), the levels of medians by Kendall's S (exact below 50 without ties) with the median of
// all slopes (Sen 1968, J Am Stat Assoc 63:1379-1389) and the slopes of rank M and N + 1 - M as its
// limits, M = floor((N - z sqrt(n(n-1)(2n+5)/18))/2), N slopes, n periods (Gilbert 1987,
// Statistical Methods for Environmental Pollution Monitoring, 16.5; from memory). NaN below
// CHANGE_FEWEST periods.
ChangeTrend change_trend(const ChangeSeries *series, double confidence);

// ---- one period against another ----

typedef struct {
    double now, then;
    StatsInterval effect; // share: difference (Newcombe 10); rate, volume: ratio; median:
                          // difference within strata (shift.h)
    double p;
    int side; // 1: up, -1: down, 0: neither; of medians by ranks within strata, as p
    double z; // normal deviate behind p, which may be too small for p to tell; NaN: p is exact
} ChangeStep;

// Share: Fisher's mid-P. Rate: conditional exact where no record has two events, else normal on the
// log ratio with variance squares/events^2 of each. Volume: as a rate, with `dispersion` (1 or
// more) times the Poisson variance when that is above 1. Median: van Elteren within strata
// (strata.h), Mann-Whitney in one; with a confidence of NaN p alone, which is quicker. NaN if a
// period is empty or not whole, or no stratum in both.
ChangeStep change_between(ChangeMeasure measure, const ChangeCell *now, const ChangeCell *then,
                          double dispersion, double confidence);

// By what factor, at least 1, periods differ more than the chance within them: Laney's sigma of
// shares, rates (beside their cluster) and volumes; of medians strata_spread.
double change_spread(const ChangeSeries *series, const ChangeModel *model);

// As change_between, for times that hold many periods: what differs from period to period anyhow is
// allowed for. The normal deviate of p is divided by spread, limits are as much wider (of a volume
// dispersion is spread^2). An exact p too small for a double counts as the least there is. Limits
// so wide that they come to certainty are NaN.
ChangeStep change_between_spread(ChangeMeasure measure, const ChangeCell *now,
                                 const ChangeCell *then, double spread, double confidence);

// ---- rare events, each gap between two of them a point ----

// gap[i]: records without an event (or time) between an event and the next, so gaps = events - 1.
// Given how many events, x, fell among n records (or in a time T), each gap has P(G >= g) =
// C(n - g, x)/C(n, x) (or (1 - g/T)^x): exact, nothing is estimated. p of the most extreme gap:
// min(1, gaps x 2 min of its tails; times being whole numbers of days, say, a gap of g is one below
// g + 1); *at receives its index, *longer whether it is a long one. NaN
// below CHANGE_FEWEST gaps.
double change_gap(const double *gap, size_t gaps, double records, size_t *at, bool *longer);
double change_gap_time(const double *gap, size_t gaps, double time, size_t *at, bool *longer);

#endif
