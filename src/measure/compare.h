// SPDX-License-Identifier: GPL-3.0-or-later
// Units held against their network: one row a unit and compared indicator, crude and adjusted for
// case-mix, all under one control of false discoveries.
#ifndef CROSSWARD_MEASURE_COMPARE_H
#define CROSSWARD_MEASURE_COMPARE_H

#include "measure/casemix.h"
#include "measure/counted.h"
#include "stats/rank.h"

#define COMPARE_LEVEL 0.05 // of q: a unit with q at most this is called different

typedef enum { COMPARE_CRUDE, COMPARE_ADJUSTED } CompareKind;
typedef enum { COMPARE_NO_SIGNAL, COMPARE_ROBUST, COMPARE_RESTS } CompareRobust;

// One unit by one indicator, over the audited span, on the judged records alone (judged.h). What
// can't be had is NaN. value is a proportion, minutes (median), a rate as its scale says, or
// observed/expected (adjusted); centre is that of all units pooled, this one included, or 1.
typedef struct {
    uint16_t indicator; // index into the catalogue
    CompareKind kind;
    uint16_t unit;  // index into the transfers' units
    double events;  // NaN for a median
    double total;   // records, durations, or exposure
    double unknown; // records of which something is not known
    double expected;
    StatsInterval value; // with limits of its own, at the report's confidence
    double centre;
    double low_95, high_95, low_998, high_998; // funnel limits at its size; NaN for a median
    double p, q, phi, tau2; // phi of all units of the indicator; tau2: held against
    CompareRobust robust;   // whether a signal stays when the unknown turn out against it
    double rests_on;        // else: the unknown records, of all units, that it rests on
    double shrunk, own_weight;
    StatsInterval effect;         // of a median: minutes more than the rest of the network within
                                  // urgency (shift_within_runs); NaN otherwise
    unsigned rank_low, rank_high; // 0: none. Rank 1 is the greatest value
    int side;     // -1, 0, 1: below, at, above the centre (median: by ranks within urgency)
    bool flagged; // q at most COMPARE_LEVEL
} Comparison;

// One funnel, or one table of medians: the rows of an indicator and kind.
typedef struct {
    uint16_t indicator;
    CompareKind kind;
    guint first, rows; // in Comparisons.rows
    guint units;       // with records
    double centre;
    double mean_risk; // events a record: the centre of a share; of an adjusted one, the crude share
    double cluster;   // of a rate: sum k^2 / sum k, at least 1; else 1
    double phi;
    double band_tau2;     // for the drawn band: of the units not flagged
    RankGroups alike;     // of medians: Kruskal-Wallis over all units; else NaN
    const Casemix *model; // of an adjusted one; of a crude one that is adjusted too; else NULL
} Funnel;

typedef struct {
    const GPtrArray *catalogue;
    const Transfers *t;
    GArray *rows;       // of Comparison: by catalogue, crude then adjusted, unit by code
    GArray *funnels;    // of Funnel, in the same order
    GPtrArray *models;  // of Casemix
    const char *period; // name of the span, `all`
    double confidence;
    double typical; // spread typical of the report, relative to the variance of one record
    double cut;     // p up to which a signal stays one, the others as they are; 0 for none
} Comparisons;

// How: funnel.h for shares (exact binomial, the spread between units allowed for), adjusted shares
// (casemix.h) and rates (Poisson, with clusters); medians by van Elteren's test (rank.h), the unit
// against the rest within urgency (unknown urgency being one, too), the spread between units' mean
// ranks within urgency allowed for as that of shares (no tau2 is given: it would not be on the
// scale of value); effect is the shift that goes with that test; value and `alike` are of all
// urgencies together. Shrinkage: beta-binomial for shares, gamma-Poisson for rates and
// observed/expected. Ranks: ranking.h, from Clopper and Pearson's (Wilson's miss far more often
// than they say at the confidence of many at once), order-statistic, Fay-Feuer and Garwood
// intervals. Worst case: the unit's unknown records turn out against the signal, those of all
// others for it, tau2 as it was; a signal is robust if its p then still is at most `cut`, on the
// same side. The result does not depend on the number of threads. Free with compare_free.
Comparisons *compare_all(const Counted *counted, double confidence, int threads);
void compare_free(Comparisons *c);

// Limits of the drawn band at a size: records, exposure or expected events; 0.95 or 0.998.
StatsInterval compare_band(const Comparisons *c, const Funnel *funnel, double size,
                           double confidence);

// `robust`, `rests on 12 unknown records`, or empty. To be freed.
char *compare_robust(CompareRobust robust, double rests_on);

#endif
