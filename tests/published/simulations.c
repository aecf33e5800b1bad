// SPDX-License-Identifier: GPL-3.0-or-later
// Published values that came from a simulation: run again, with a seed of its own.
#include "published.h"
#include "replay/engine.h"
#include "stats/survival.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { RUNS = 40000, MOST = 200, SEED = 1 };

// n times with mean 1, censored at times with the mean the row names, and whether the limits of
// survival at the true median hold a half.
static CheckAnswer survival_coverage(const CheckRow *row) {
    static SurvivalStep steps[MOST];
    double n, mean = 2, times[MOST];
    bool event[MOST];
    const char *censored = strstr(row->inputs, "Exp mean ");
    if (!check_key(row, "n", &n) || n > MOST || !check_says(row->method, "true median"))
        return check_not_mine();
    if (censored != NULL)
        check_numbers(censored, &mean, 1);
    const SurvivalLimits limits = check_says(row->method, "log-log") ? SURVIVAL_LOG_LOG
                                  : check_says(row->method, "plain") ? SURVIVAL_PLAIN
                                                                     : SURVIVAL_LOG;
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(r, SEED);
    int covered = 0;
    for (int run = 0; run < RUNS; run++) {
        size_t count;
        for (int i = 0; i < (int)n; i++) {
            double end = gsl_ran_exponential(r, 1), left = gsl_ran_exponential(r, mean);
            times[i] = fmin(end, left);
            event[i] = end <= left;
        }
        survival_curve(times, event, (size_t)n, steps, &count);
        StatsInterval s = survival_at(steps, count, M_LN2, check_confidence(row), limits);
        covered += s.lower <= 0.5 && s.upper >= 0.5;
    }
    gsl_rng_free(r);
    return check_number(covered / (double)RUNS);
}

// ---- teams without a queue ----

enum { TICKS = 5000 }; // for a mean call

// Requests at random, a tick's load of `offered` calls for each mean call; calls of equal length or
// exponential. The share that finds all teams out, by the replay's own event loop.
static double lost_share(unsigned teams, double offered, size_t n, bool equal) {
    EngineRequest *request = calloc(n, sizeof *request);
    EngineAnswer *answer = calloc(n, sizeof *answer);
    int32_t *busy = calloc(n * teams, sizeof *busy);
    uint8_t *order = calloc(n * teams, sizeof *order);
    EngineWork *work = engine_work_new(n);
    double at = 0, lost = NAN;
    if (request != NULL && answer != NULL && busy != NULL && order != NULL && work != NULL) {
        gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
        gsl_rng_set(r, SEED);
        for (size_t i = 0; i < n; i++) { // each request is a route of its own
            at += gsl_ran_exponential(r, TICKS / offered);
            request[i] = (EngineRequest){(int32_t)at, (uint32_t)i, 0};
            double length = equal ? TICKS : gsl_ran_exponential(r, TICKS);
            for (unsigned k = 0; k < teams; k++) {
                busy[i * teams + k] = (int32_t)lround(length);
                order[i * teams + k] = (uint8_t)k;
            }
        }
        const EngineShift always = {0, (UINT64_C(1) << teams) - 1};
        const EngineFleet fleet = {.teams = teams,
                                   .stride = teams,
                                   .busy = busy,
                                   .order = order,
                                   .takes = {always.on},
                                   .longest_wait = {0},
                                   .shift = &always,
                                   .shifts = 1};
        engine_run(&fleet, request, n, work, answer);
        lost = 0;
        for (size_t i = 0; i < n; i++)
            lost += answer[i].state != ENGINE_REACHED;
        gsl_rng_free(r);
    }
    engine_work_free(work);
    free(request);
    free(answer);
    free(busy);
    free(order);
    return lost / (double)n;
}

// `M/M/3/3 simulated loss (A=2)`: the load is that of the row, or 2 as in the row before.
static CheckAnswer loss(const CheckRow *row) {
    double teams, offered = 2, n;
    const char *slash = strchr(row->method, '/'), *load = strstr(row->method, "A=");
    if (slash == NULL || check_numbers(slash + 2, &teams, 1) != 1 ||
        check_numbers(row->inputs, &n, 1) != 1 || teams < 1 || teams > 8)
        return check_not_mine();
    if (load != NULL)
        check_numbers(load + 2, &offered, 1);
    return check_number(
        lost_share((unsigned)teams, offered, (size_t)n, strncmp(row->method, "M/D", 3) == 0));
}

const CheckMethod published_simulations[] = {
    {"KM * coverage*", survival_coverage},
    {"M/M/* simulated loss*", loss},
    {"M/D/* simulated loss*", loss},
    {NULL, NULL},
};
