// SPDX-License-Identifier: GPL-3.0-or-later
// Published values that came from a simulation: run again, with a seed of its own.
#include "published.h"
#include "stats/survival.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
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

const CheckMethod published_simulations[] = {
    {"KM * coverage*", survival_coverage},
    {NULL, NULL},
};
