// SPDX-License-Identifier: GPL-3.0-or-later
// Comparison with R: censored times.
#include "stats.h"
#include "stats/incidence.h"
#include "stats/logrank.h"
#include "stats/survival.h"

#include <math.h>
#include <stdbool.h>

typedef struct {
    bool event[ORACLE_MOST_VALUES];
    unsigned end[ORACLE_MOST_VALUES];
    size_t group[ORACLE_MOST_VALUES], stratum[ORACLE_MOST_VALUES];
} Columns;

static const Columns *columns_of(const OracleList *given, bool groups, bool strata) {
    static Columns c;
    for (size_t i = 0; i < given[0].n; i++) {
        c.event[i] = given[1].values[i] > 0;
        c.end[i] = (unsigned)given[1].values[i];
        c.group[i] = groups ? (size_t)given[2].values[i] : 0;
        c.stratum[i] = strata ? (size_t)given[4].values[i] : 0;
    }
    return &c;
}

static size_t curve_of(const OracleList *given, SurvivalStep *steps) {
    size_t count;
    survival_curve(given[0].values, columns_of(given, false, false)->event, given[0].n, steps,
                   &count);
    return count;
}

static size_t survival(const OracleList *given, double *answers) {
    static SurvivalStep steps[ORACLE_MOST_VALUES];
    size_t count = curve_of(given, steps);
    double t = given[2].values[0], confidence = given[3].values[0];
    answers[0] = survival_at(steps, count, t, confidence, SURVIVAL_LOG_LOG).estimate;
    answers[1] = survival_error(steps, count, t);
    answers[2] = survival_hazard(steps, count, t);
    for (int l = 0; l < 3; l++) {
        StatsInterval i = survival_at(steps, count, t, confidence, (SurvivalLimits)l);
        answers[3 + l] = i.lower;
        answers[6 + l] = i.upper;
    }
    return 9;
}

static size_t quantile(const OracleList *given, double *answers) {
    static SurvivalStep steps[ORACLE_MOST_VALUES];
    size_t count = curve_of(given, steps);
    for (int l = 0; l < 3; l++) {
        StatsInterval i = survival_quantile(steps, count, given[2].values[0], given[3].values[0],
                                            (SurvivalLimits)l);
        answers[3 * l] = i.estimate;
        answers[3 * l + 1] = i.lower;
        answers[3 * l + 2] = i.upper;
    }
    return 9;
}

static size_t mean(const OracleList *given, double *answers) {
    static SurvivalStep steps[ORACLE_MOST_VALUES];
    size_t count = curve_of(given, steps);
    answers[0] = survival_mean(steps, count, given[2].values[0], &answers[1]);
    return 2;
}

static LogrankData data_of(const OracleList *given, bool strata) {
    const Columns *c = columns_of(given, true, strata);
    return (LogrankData){given[0].values, c->event, c->group, strata ? c->stratum : NULL,
                         given[0].n,      2,        3};
}

static size_t weighted(const OracleList *given, bool strata, LogrankWeight weight, bool whole,
                       double *answers) {
    double observed[8], expected[8], variance;
    LogrankData d = data_of(given, strata);
    d.groups = (size_t)given[3].values[0];
    LogrankTest t = logrank_test(&d, weight, observed, expected, &variance);
    size_t at = 0;
    answers[at++] = t.statistic;
    if (whole) {
        answers[at++] = t.df;
        answers[at++] = t.p;
        answers[at++] = variance;
    }
    for (size_t g = 0; g < d.groups; g++)
        answers[at++] = observed[g];
    for (size_t g = 0; g < d.groups; g++)
        answers[at++] = expected[g];
    return at;
}

static size_t logrank(const OracleList *given, double *answers) {
    return weighted(given, false, LOGRANK_EQUAL, true, answers);
}

static size_t peto(const OracleList *given, double *answers) {
    return weighted(given, false, LOGRANK_PETO, false, answers);
}

static size_t stratified(const OracleList *given, double *answers) {
    return weighted(given, true, LOGRANK_EQUAL, false, answers);
}

static size_t gehan(const OracleList *given, double *answers) {
    LogrankData d = data_of(given, false);
    answers[0] = logrank_test(&d, LOGRANK_GEHAN, NULL, NULL, NULL).statistic;
    answers[1] = logrank_gehan_permutation(&d);
    return 2;
}

static size_t steps_of(const OracleList *given, IncidenceStep *steps) {
    size_t count;
    incidence_curve(given[0].values, columns_of(given, false, false)->end, given[0].n,
                    (unsigned)given[2].values[0], steps, &count);
    return count;
}

static size_t incidence(const OracleList *given, double *answers) {
    static IncidenceStep steps[ORACLE_MOST_VALUES];
    size_t count = steps_of(given, steps);
    double t = given[3].values[0];
    StatsInterval i = incidence_interval(steps, count, t, 0.95);
    answers[0] = i.estimate;
    answers[1] = incidence_variance(steps, count, t, INCIDENCE_JACKKNIFE);
    answers[2] = incidence_variance(steps, count, t, INCIDENCE_DELTA);
    answers[3] = i.lower;
    answers[4] = i.upper;
    return 5;
}

static size_t incidence_area(const OracleList *given, double *answers) {
    static IncidenceStep steps[ORACLE_MOST_VALUES];
    static SurvivalStep free_of_all[ORACLE_MOST_VALUES];
    size_t count = steps_of(given, steps), all = curve_of(given, free_of_all);
    answers[0] = survival_mean(free_of_all, all, given[3].values[0], NULL);
    answers[1] = incidence_mean(steps, count, given[3].values[0]);
    return 2;
}

const OracleEntry oracle_survival[] = {
    {"survival", survival, 1e-9, 1e-15},
    {"survival_quantile", quantile, 1e-12, 0},
    {"survival_mean", mean, 1e-9, 1e-12},
    {"logrank", logrank, 1e-9, 1e-13},
    {"logrank_peto", peto, 1e-9, 1e-13},
    {"logrank_strata", stratified, 1e-9, 1e-13},
    {"gehan", gehan, 1e-9, 1e-13},
    {"incidence", incidence, 1e-9, 1e-15},
    {"incidence_mean", incidence_area, 1e-9, 1e-12},
    {NULL, NULL, 0, 0},
};
