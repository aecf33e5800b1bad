// SPDX-License-Identifier: GPL-3.0-or-later
// Times of which some are known only to be longer (censored): Kaplan-Meier, its limits, quantiles.
#ifndef CROSSWARD_STATS_SURVIVAL_H
#define CROSSWARD_STATS_SURVIVAL_H

#include "stats/interval.h"
#include <stdbool.h>
#include <stddef.h>

// One time at which something was seen, events or ends of observation. A subject censored at the
// time of an event was at risk of it.
typedef struct {
    double time; // in the unit of the times given
    double at_risk, events, censored;
    double survival; // proportion free of the event after this time
    double variance; // Greenwood's sum of d / (n (n - d)): variance of log survival; +Inf at
                     // survival 0
    double hazard;   // Nelson-Aalen sum of d / n
} SurvivalStep;

// Kaplan & Meier 1958, J Am Stat Assoc 53:457-481; Greenwood 1926; Klein & Moeschberger 2003,
// Survival Analysis, 4.2. times: n times >= 0 in any order, read only; event[i]: whether it ended
// in the event. steps: room for n, written in the order of time; their number comes back in count
// (0 for no subjects). False for a time that is negative or no number, or if memory runs out. n log
// n.
bool survival_curve(const double *times, const bool *event, size_t n, SurvivalStep *steps,
                    size_t *count);

typedef enum {
    SURVIVAL_LOG_LOG, // exp(-exp(log(-log S) -+ z se)): stays within 0 and 1, best in small samples
    SURVIVAL_LOG,     // S exp(-+ z se), at most 1: what R's survfit gives unasked
    SURVIVAL_PLAIN    // S -+ z se, cut at 0 and 1
} SurvivalLimits;

// Survival after the time t with pointwise limits; Klein & Moeschberger 2003, 4.3 (4.3.1-4.3.2).
// NaN before 0, with no subjects, and beyond the longest time unless survival is 0 there. No limits
// at survival 0; no log-log limits at survival 1.
StatsInterval survival_at(const SurvivalStep *steps, size_t count, double t, double confidence,
                          SurvivalLimits limits);

// Greenwood's standard error of survival after t; 0 while survival is 1, NaN at 0.
double survival_error(const SurvivalStep *steps, size_t count, double t);

// Nelson & Aalen's cumulative hazard at t; Aalen 1978, Ann Stat 6:701-726. NaN as survival_at.
double survival_hazard(const SurvivalStep *steps, size_t count, double t);

// The time by which the share p (0.5: the median) has had the event: the first with survival at
// most 1 - p; where survival is just that over a stretch (to 1.5e-8), the middle of the stretch, as
// R's survfit has it. NaN if not reached. Limits by Brookmeyer & Crowley 1982, Biometrics 38:29-41:
// where the pointwise limits of survival first reach 1 - p, by the same rule.
StatsInterval survival_quantile(const SurvivalStep *steps, size_t count, double p,
                                double confidence, SurvivalLimits limits);

// Mean time free of the event up to the time `until`, the area below the curve, with its standard
// error (may be NULL); Klein & Moeschberger 2003, 4.5. NaN beyond the longest time unless survival
// is 0 there.
double survival_mean(const SurvivalStep *steps, size_t count, double until, double *error);

#endif
