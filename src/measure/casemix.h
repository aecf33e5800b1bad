// SPDX-License-Identifier: GPL-3.0-or-later
// Case-mix: how many events each unit's patients would have had at the network's risks.
#ifndef CROSSWARD_MEASURE_CASEMIX_H
#define CROSSWARD_MEASURE_CASEMIX_H

#include "measure/count.h"
#include "stats/calibration.h"
#include "stats/interval.h"

// One level of one factor. The reference level (the commonest; of equals `unknown`, else the first
// of its code list) has odds ratio 1 without limits.
typedef struct {
    char *factor, *level; // field (journey_class for the journey's length) and code, or `unknown`
    double records, events;
    StatsInterval odds_ratio; // against the reference level
} CasemixTerm;

typedef struct {
    double observed, expected, variance; // of the count at the fitted risks
    double p;                            // exact, 2 min of its tails
    double limit[4]; // observed/expected at tails 0.001, 0.025, 0.975, 0.999, interpolated exact
} CasemixUnit;

enum { CASEMIX_GROUPS = 10, CASEMIX_FEWEST = 10, CASEMIX_REFUSED = 5 };

typedef struct {
    bool fitted;
    const char *reason;                 // why it was not fitted, or with fewer factors; NULL
    bool reduced;                       // age band, care level, ventilated and urgency alone
    bool firth;                         // separated: Firth's penalised fit
    double records, events, parameters; // parameters without the intercept
    double c_statistic;
    CalibrationGroup group[CASEMIX_GROUPS]; // tenths of the records by fitted risk, the least first
    StatsInterval seen[CASEMIX_GROUPS];     // share with the event in each, with Wilson's limits
    size_t groups;
    GPtrArray *terms;  // of CasemixTerm
    guint units;       // places
    CasemixUnit *unit; // by place; [0]: all together (no p, no limits)
} Casemix;

// Whether the indicator is adjusted: adverse_event_share, harm_share, departed_in_time_share, as
// long as units are judged by it and it is a share.
bool casemix_is(const Indicator *indicator);

// Logistic regression on the judged records of the whole network, without unit: age_band, sex,
// care_level, ventilated, vasoactive, urgency, condition, and for events the journey's length in
// classes (under 30, 60, 120 minutes, more) and out_of_hours, for departure in time the hour of the
// request; `unknown` is a level. With fewer than CASEMIX_FEWEST events a parameter (events or
// non-events, whichever are fewer) the reduced factors; with fewer than CASEMIX_REFUSED for those
// it is refused. Limits of odds ratios are Wald's at `confidence`. A separated fit is Firth's, its
// intercept then set so that expected and observed events agree over the network (Puhr et al.
// 2017, Stat Med 36:2302-2317). Free with casemix_free.
Casemix *casemix_fit(const CountData *data, const Indicator *indicator, double confidence);
void casemix_free(Casemix *model);

#endif
