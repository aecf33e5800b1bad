// SPDX-License-Identifier: GPL-3.0-or-later
// The replay: every number of teams on every roster against the requests of the logs, with
// intervals from resampled weeks.
#ifndef CROSSWARD_REPLAY_TRIAL_H
#define CROSSWARD_REPLAY_TRIAL_H

#include "replay/demand.h"
#include "stats/interval.h"

typedef enum {
    TRIAL_REACHED,          // share of requests to which a team was sent
    TRIAL_REACHED_CRITICAL, // the same of the time-critical, the urgent, the planned ones
    TRIAL_REACHED_URGENT,
    TRIAL_REACHED_PLANNED,
    TRIAL_IN_TARGET,       // share of time-critical requests that leave with a team within the
                           // network's target from request to departure; NaN without a target
    TRIAL_WAIT_MEDIAN,     // minutes from request to the team's coming to the bedside, of those
    TRIAL_WAIT_P90,        // reached (Hyndman & Fan definition 2)
    TRIAL_CRITICAL_LEFT,   // time-critical requests a year to which no team was sent,
    TRIAL_CRITICAL_BUSY,   // of them: a team was on duty, but out
    TRIAL_CRITICAL_OFF,    // of them: no team was on duty
    TRIAL_USE,             // minutes out / minutes on duty, calls that overrun a shift included
    TRIAL_KEPT_TRANSFERS,  // a week: those that the sending units' own people did in the logs and
                           // to which no team was sent
    TRIAL_KEPT_HOURS,      // hours a week that their own people are away with those
    TRIAL_KEPT_WHOLE_TIME, // the same as whole-time people
    TRIAL_ADDS,            // share of requests reached less that of one team fewer
    TRIAL_MEASURES
} TrialMeasure;

typedef struct {
    const char *name, *title, *scale; // scale as in summary.csv
} TrialMeasureText;
extern const TrialMeasureText trial_measures[TRIAL_MEASURES];

typedef struct {
    unsigned roster, teams;
    uint64_t reached, busy, off_duty; // requests by how they ended; together all of them
    StatsInterval value[TRIAL_MEASURES];
} TrialScenario;

typedef struct {
    uint64_t seed;
    unsigned replicates, threads; // threads 0: as many as there are processors
    double confidence;
} TrialSettings;

typedef struct {
    const Rules *rules;     // borrowed
    const Demand *demand;   // borrowed
    const Network *network; // borrowed
    TrialSettings settings;
    GArray *scenarios; // TrialScenario: by roster, then by teams from 0 on
    double days;       // of the requests, first and last included
    unsigned weeks;    // whole weeks that are resampled, from the first day on
    unsigned block;    // weeks running that are drawn together
} Trial;

// Replays the demand. Limits are percentiles (two-sided, Efron 1979) of replicates, each a replay
// of as many weeks as there are whole ones, drawn in blocks running (moving blocks: Kunsch 1989)
// and put one after another by the local clock, so that each weekday and hour stays what it is and
// what a week leaves behind meets the next. All numbers of teams see the same weeks. NaN with fewer
// than 10 weeks or 2 replicates. The same settings give the same figures at any number of threads.
// Free with trial_free.
Trial *trial_run(const Demand *demand, const Rules *rules, const Network *network,
                 const TrialSettings *settings);
void trial_free(Trial *trial);

const TrialScenario *trial_scenario(const Trial *trial, unsigned roster, unsigned teams);

// How each request of the demand ended in a scenario, in its order. To be freed.
EngineAnswer *trial_answers(const Trial *trial, unsigned roster, unsigned teams);

// Fewest teams on the roster after which one more adds less than the rules call worthwhile; the
// most that were tried if each paid.
unsigned trial_enough(const Trial *trial, unsigned roster);

#endif
