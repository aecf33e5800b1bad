// SPDX-License-Identifier: GPL-3.0-or-later
// Comparison with R: quantiles, ranks, tables, adjusted p-values, moments.
#include "stats.h"
#include "stats/multiple.h"
#include "stats/poisson_binomial.h"
#include "stats/quantile.h"
#include "stats/rank.h"
#include "stats/shift.h"
#include "stats/summary.h"
#include "stats/table.h"

#include <string.h>

static size_t put(double *answers, const double *values, size_t n) {
    memcpy(answers, values, n * sizeof *values);
    return n;
}

static size_t quantile(const OracleList *given, double *answers) {
    const double *x = given[0].values, p = given[1].values[0];
    size_t n = given[0].n;
    double *at = answers;
    *at++ = quantile_hf2(x, n, p);
    *at++ = quantile_hf1(x, n, p);
    for (unsigned definition = 4; definition <= 9; definition++)
        *at++ = quantile_linear(x, n, p, definition);
    return (size_t)(at - answers);
}

static size_t mann_whitney(const OracleList *given, double *answers) {
    RankTest t =
        rank_mann_whitney(given[0].values, given[0].n, given[1].values, given[1].n, RANK_AUTO);
    return put(answers, (double[]){t.statistic, t.two_sided, t.greater, t.less}, 4);
}

// Values of a stratum (of which given[1] tells), sorted.
static Runs stratum(const OracleList *given, double which, double *room) {
    size_t n = 0;
    for (size_t i = 0; i < given[0].n; i++)
        if (given[1].values[i] == which)
            room[n++] = given[0].values[i];
    quantile_sort(room, n);
    return (Runs){n, room, NULL};
}

enum { STRATA = 5 };

// Samples by stratum, as van_elteren and shift_within are given them.
typedef struct {
    double x_room[STRATA][ORACLE_MOST_VALUES], y_room[STRATA][ORACLE_MOST_VALUES];
    Runs x[STRATA], y[STRATA];
} Strata;

static void fill_strata(const OracleList *given, Strata *s) {
    for (size_t k = 0; k < STRATA; k++) {
        s->x[k] = stratum(given, (double)k, s->x_room[k]);
        s->y[k] = stratum(given + 2, (double)k, s->y_room[k]);
    }
}

static size_t van_elteren(const OracleList *given, double *answers) {
    Strata s;
    fill_strata(given, &s);
    const RankStrata r = rank_van_elteren_runs(s.x, s.y, STRATA);
    return put(answers, (double[]){r.ahead, r.two_sided, r.mean_rank, r.variance}, 4);
}

static size_t shift_within(const OracleList *given, double *answers) {
    Strata s;
    fill_strata(given, &s);
    const StatsInterval i = shift_within_runs(s.x, s.y, STRATA, 0.95);
    return put(answers, (double[]){i.estimate, i.lower, i.upper}, 3);
}

static size_t hodges_lehmann(const OracleList *given, double *answers) {
    StatsInterval i =
        shift_hodges_lehmann(given[0].values, given[0].n, given[1].values, given[1].n, 0.95);
    return put(answers, (double[]){i.estimate, i.lower, i.upper}, 3);
}

static size_t kruskal_wallis(const OracleList *given, double *answers) {
    size_t group[ORACLE_MOST_VALUES];
    for (size_t i = 0; i < given[1].n; i++)
        group[i] = (size_t)given[1].values[i];
    RankGroups t =
        rank_kruskal_wallis(given[0].values, group, given[0].n, (size_t)given[2].values[0]);
    return put(answers, (double[]){t.statistic, t.df, t.p}, 3);
}

static size_t kendall(const OracleList *given, double *answers) {
    double tau;
    RankTest t = rank_kendall(given[0].values, given[1].values, given[0].n, RANK_AUTO, &tau);
    return put(answers, (double[]){tau, t.two_sided, t.greater, t.less}, 4);
}

static size_t chisq(const OracleList *given, double *answers) {
    size_t columns = (size_t)given[1].values[0], rows = given[0].n / columns;
    TableTest t = table_chisq(given[0].values, rows, columns);
    double residual = table_residual(given[0].values, rows, columns, 0, 1);
    return put(answers, (double[]){t.statistic, t.df, t.p, residual}, 4);
}

static size_t fisher(const OracleList *given, double *answers) {
    TableFisher f = table_fisher(given[0].values);
    return put(answers, (double[]){f.two_sided, f.greater, f.less}, 3);
}

static size_t yates(const OracleList *given, double *answers) {
    TableTest t = table_yates(given[0].values);
    return put(answers, (double[]){t.statistic, t.p}, 2);
}

static size_t mcnemar(const OracleList *given, double *answers) {
    TablePaired t = table_mcnemar(given[0].values[0], given[1].values[0]);
    return put(answers, (double[]){t.statistic, t.corrected, t.exact_p}, 3);
}

static size_t trend(const OracleList *given, double *answers) {
    TableTrend t = table_trend(given[0].values, given[1].values, NULL, given[0].n);
    return put(answers, (double[]){t.statistic, t.p}, 2);
}

static size_t benjamini_hochberg(const OracleList *given, double *answers) {
    multiple_benjamini_hochberg(given[0].values, given[0].n, answers);
    return given[0].n;
}

static size_t holm(const OracleList *given, double *answers) {
    multiple_holm(given[0].values, given[0].n, answers);
    return given[0].n;
}

static size_t summary(const OracleList *given, double *answers) {
    return put(answers,
               (double[]){summary_mean(given[0].values, given[0].n),
                          summary_sd(given[0].values, given[0].n)},
               2);
}

static size_t poisson_binomial(const OracleList *given, double *answers) {
    poisson_binomial_points(given[0].values, given[0].n, answers);
    return given[0].n + 1;
}

const OracleEntry oracle_samples[] = {
    {"quantile", quantile, 1e-12, 0},
    {"mann_whitney", mann_whitney, 1e-9, 0},
    {"van_elteren", van_elteren, 1e-9, 1e-13},
    {"shift_within", shift_within, 1e-12, 1e-12},
    {"hodges_lehmann", hodges_lehmann, 1e-12, 0},
    {"hodges_lehmann_limits", hodges_lehmann, 1e-12, 0},
    {"kruskal_wallis", kruskal_wallis, 1e-9, 1e-13},
    {"kendall", kendall, 1e-9, 1e-13},
    {"chisq", chisq, 1e-9, 1e-13},
    {"fisher", fisher, 1e-9, 0},
    {"yates", yates, 1e-9, 1e-15},
    {"mcnemar", mcnemar, 1e-9, 1e-13},
    {"trend", trend, 1e-9, 1e-13},
    {"benjamini_hochberg", benjamini_hochberg, 1e-12, 0},
    {"holm", holm, 1e-12, 0},
    {"summary", summary, 1e-9, 0},
    {"poisson_binomial", poisson_binomial, 1e-9, 0},
    {NULL, NULL, 0, 0},
};
