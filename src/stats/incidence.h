// SPDX-License-Identifier: GPL-3.0-or-later
// Cumulative incidence of one of several ends that exclude each other (Aalen-Johansen).
#ifndef CROSSWARD_STATS_INCIDENCE_H
#define CROSSWARD_STATS_INCIDENCE_H

#include "stats/interval.h"
#include <stdbool.h>
#include <stddef.h>

// One time at which something was seen. Whoever is censored at the time of an end was at risk of
// it.
typedef struct {
    double time; // in the unit of the times given
    double at_risk;
    double events;    // ends of the kind asked for
    double others;    // ends of the other kinds
    double survival;  // proportion without any end after this time
    double incidence; // proportion with the end asked for by this time
} IncidenceStep;

// Aalen & Johansen 1978, Scand J Stat 5:141-150; Kalbfleisch & Prentice 2002, Statistical Analysis
// of Failure Time Data, 8.2.3. times: n times >= 0 in any order, read only; end[i]: 0 censored,
// else the kind of end; `of`: the kind asked for, from 1. steps: room for n, written in the order
// of time; count: how many. False for a negative or missing time, or if memory runs out. n log n.
// At any time survival and the incidences of all kinds add to 1.
bool incidence_curve(const double *times, const unsigned *end, size_t n, unsigned of,
                     IncidenceStep *steps, size_t *count);

// The same where it is known how many ended when: k times, rising, and how many came to each kind
// of end at each (n[i * (ends + 1) + end]; end 0: censored), one or more at every time. Writes k
// steps.
typedef struct {
    size_t k;
    unsigned ends;
    const double *time, *n;
} IncidenceCounts;
void incidence_of_counts(const IncidenceCounts *counts, unsigned of, IncidenceStep *steps);

// Incidence by the time t: NaN without subjects, before 0, and beyond the longest time unless
// nobody was left at risk without an end there.
double incidence_at(const IncidenceStep *steps, size_t count, double t);

typedef enum {
    INCIDENCE_DELTA,    // delta method: Gaynor et al. 1993, J Am Stat Assoc 88:400-409; Marubini &
                        // Valsecchi 1995, eq. 10.12. Greenwood's where there is one kind of end
    INCIDENCE_AALEN,    // counting processes: Aalen 1978, Ann Stat 6:701-726, with tied ends as in
                        // Klein & Moeschberger 2003, 3.7; the largest of the three
    INCIDENCE_JACKKNIFE // infinitesimal jackknife: sum of squared influences, as R's survfit
} IncidenceVariance;

// Variance of incidence_at; the three agree to first order only. One pass over the steps. NaN where
// incidence_at is.
double incidence_variance(const IncidenceStep *steps, size_t count, double t,
                          IncidenceVariance method);

// With limits F^exp(-+ z se / (F log F)) from the delta method's variance (Choudhury 2002, Stat Med
// 21:1129-1144); no limits at 0 and 1.
StatsInterval incidence_interval(const IncidenceStep *steps, size_t count, double t,
                                 double confidence);

// Mean time up to `until` spent after the end asked for: the area below its curve. NaN beyond the
// longest time unless nobody was left there.
double incidence_mean(const IncidenceStep *steps, size_t count, double until);

#endif
