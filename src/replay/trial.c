// SPDX-License-Identifier: GPL-3.0-or-later
// Scenarios: each of them against the requests as they were.
#include "replay/trial.h"

#include "replay/fleet.h"
#include "replay/stream.h"
#include "replay/weeks.h"

#include <math.h>
#include <string.h>

enum { FEWEST_WEEKS = 10 };

const TrialMeasureText trial_measures[TRIAL_MEASURES] = {
    {"reached", "Requests reached by a team", "proportion"},
    {"reached_time_critical", "Time-critical requests reached", "proportion"},
    {"reached_urgent", "Urgent requests reached", "proportion"},
    {"reached_planned", "Planned requests reached", "proportion"},
    {"in_target", "Time-critical requests that leave with a team within the target", "proportion"},
    {"wait_median", "Request to team at the bedside, median", "minutes"},
    {"wait_p90", "Request to team at the bedside, 90th centile", "minutes"},
    {"time_critical_left", "Time-critical requests to which no team is sent", "per year"},
    {"time_critical_left_busy", "of them: every team on duty is out", "per year"},
    {"time_critical_left_off_duty", "of them: no team is on duty", "per year"},
    {"use", "Time out as a share of time on duty", "proportion"},
    {"kept_transfers", "Transfers that stay with the sending units' own people", "per week"},
    {"kept_hours", "Hours that their own people are still away", "hours per week"},
    {"kept_whole_time", "The same as whole-time people", "count"},
    {"adds", "Share of requests that the last team adds", "proportion"},
};

// ---- as it was ----

static int32_t midnight(const Trial *r, int32_t day) {
    int32_t utc = 0, second;
    if (when_to_utc(r->network->zone, day * WHEN_DAY, &utc, &second) == WHEN_SKIPPED)
        when_to_utc(r->network->zone, day * WHEN_DAY + 60, &utc, &second);
    return utc;
}

static Stream actual_stream(const Trial *r) {
    Stream s = stream_new(r, r->demand->n);
    s.n = r->demand->n;
    memcpy(s.request, r->demand->request, s.n * sizeof *s.request);
    for (size_t i = 0; i < s.n; i++)
        s.source[i] = (uint32_t)i;
    return s;
}

static void run_scenario(Stream *s, const GArray *shifts, TrialScenario *scenario) {
    const Trial *r = s->trial;
    const int32_t from = midnight(r, r->demand->first_day),
                  to = midnight(r, r->demand->last_day + 1);
    const EngineFleet fleet = fleet_make(r, scenario->teams, shifts);
    double value[TRIAL_MEASURES];
    stream_reset(s, NULL);
    engine_run(&fleet, s->request, s->n, s->work, s->answer);
    stream_count(s, &fleet, 0, s->n);
    stream_figures(s, r->days, fleet_minutes_on_duty(shifts, scenario->teams, from, to), value);
    value[TRIAL_ADDS] = scenario->teams == 0
                            ? NAN
                            : value[TRIAL_REACHED] - scenario[-1].value[TRIAL_REACHED].estimate;
    scenario->reached = stream_reached(&s->sum);
    scenario->busy = s->sum.busy;
    scenario->off_duty = s->sum.off_duty;
    for (int m = 0; m < TRIAL_MEASURES; m++)
        scenario->value[m] = (StatsInterval){value[m], NAN, NAN};
}

static void run_actual(Trial *r) {
    GArray **shifts = fleet_shifts(r, r->network, r->demand->last_day);
    Stream s = actual_stream(r);
    TrialScenario *next = (TrialScenario *)(void *)r->scenarios->data;
    for (unsigned roster = 0; roster < r->rules->rosters->len; roster++)
        for (unsigned teams = 0; teams <= r->demand->teams; teams++, next++) {
            next->roster = roster;
            next->teams = teams;
            run_scenario(&s, shifts[roster], next);
        }
    stream_clear(&s);
    fleet_free_shifts(r, shifts);
}

// ---- all of it ----

Trial *trial_run(const Demand *demand, const Rules *rules, const Network *network,
                 const TrialSettings *settings) {
    Trial *r = g_new0(Trial, 1);
    r->demand = demand, r->rules = rules, r->network = network, r->settings = *settings;
    r->days = demand->last_day - demand->first_day + 1;
    r->weeks = (unsigned)(demand->last_day - demand->first_day + 1) / 7;
    r->block = MAX(1, (unsigned)lround(cbrt(r->weeks)));
    r->scenarios = g_array_new(FALSE, TRUE, sizeof(TrialScenario));
    g_array_set_size(r->scenarios, rules->rosters->len * (demand->teams + 1));
    run_actual(r);
    if (r->weeks >= FEWEST_WEEKS && settings->replicates >= 2)
        weeks_limits(r);
    return r;
}

void trial_free(Trial *trial) {
    if (!trial)
        return;
    g_array_unref(trial->scenarios);
    g_free(trial);
}

const TrialScenario *trial_scenario(const Trial *trial, unsigned roster, unsigned teams) {
    return &g_array_index(trial->scenarios, TrialScenario,
                          roster * (trial->demand->teams + 1) + teams);
}

EngineAnswer *trial_answers(const Trial *trial, unsigned roster, unsigned teams) {
    GArray *shifts =
        demand_shifts(trial->rules, trial->rules->rosters->pdata[roster], trial->demand->teams,
                      trial->demand->first_day, trial->demand->last_day, trial->network);
    const EngineFleet fleet = fleet_make(trial, teams, shifts);
    EngineWork *work = engine_work_new(trial->demand->n);
    EngineAnswer *answer = g_new0(EngineAnswer, trial->demand->n + 1);
    if (!work)
        g_error("out of memory for %zu requests", trial->demand->n);
    engine_run(&fleet, trial->demand->request, trial->demand->n, work, answer);
    engine_work_free(work);
    g_array_unref(shifts);
    return answer;
}

unsigned trial_enough(const Trial *trial, unsigned roster) {
    unsigned teams = 0;
    while (teams < trial->demand->teams &&
           trial_scenario(trial, roster, teams + 1)->value[TRIAL_ADDS].estimate >=
               trial->rules->worthwhile)
        teams++;
    return teams;
}
