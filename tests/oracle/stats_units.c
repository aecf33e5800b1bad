// SPDX-License-Identifier: GPL-3.0-or-later
// Comparison with R: units against their network, and series.
#include "stats.h"
#include "stats/bootstrap.h"
#include "stats/control.h"
#include "stats/erlang.h"
#include "stats/expected.h"
#include "stats/funnel.h"
#include "stats/poisson_binomial.h"
#include "stats/pooled.h"
#include "stats/run_chart.h"
#include "stats/shrinkage.h"

#include <string.h>

// The i-th argument, a single number; and the i-th list.
#define ARG(i) (given[i].values[0])
#define LIST(i) (given[i].values)

static size_t put(double *answers, const double *values, size_t n) {
    memcpy(answers, values, n * sizeof *values);
    return n;
}

static size_t funnel_binomial(const OracleList *given, double *answers) {
    answers[0] = funnel_binomial_limit(ARG(0), ARG(1), ARG(2));
    return 1;
}

static size_t funnel_poisson(const OracleList *given, double *answers) {
    answers[0] = funnel_poisson_limit(ARG(0), ARG(1));
    return 1;
}

static size_t funnel_p_of(const OracleList *given, double *answers) {
    answers[0] = funnel_binomial_p(ARG(0), ARG(1), ARG(2));
    return 1;
}

static size_t expected_ratios(const OracleList *given, double *answers) {
    const StatsInterval a = expected_ratio(ARG(0), ARG(1), 0.95);
    const StatsInterval b = expected_ratio_byar(ARG(0), ARG(1), 0.95);
    return put(answers, (double[]){a.estimate, a.lower, a.upper, b.lower, b.upper}, 5);
}

static size_t pooled(const OracleList *given, double *answers) {
    const PooledMean a = pooled_dersimonian_laird(given[0].n, LIST(0), LIST(1));
    const PooledMean b = pooled_paule_mandel(given[0].n, LIST(0), LIST(1));
    return put(answers, (double[]){a.tau2, a.mean, a.se, a.q, b.tau2, b.mean}, 6);
}

static size_t winsorise(const OracleList *given, double *answers) {
    funnel_winsorise(given[0].n, LIST(0), ARG(1), answers);
    return given[0].n;
}

static size_t expected_limits(const OracleList *given, double *answers) {
    double points[ORACLE_MOST_VALUES], expected = 0;
    const size_t n = given[0].n;
    for (size_t i = 0; i < n; i++)
        expected += LIST(0)[i];
    poisson_binomial_points(LIST(0), n, points);
    return put(answers,
               (double[]){expected_p(points, n, (size_t)ARG(1)),
                          expected_limit(points, n, expected, ARG(2))},
               2);
}

static size_t interval(double *answers, StatsInterval i) {
    return put(answers, (double[]){i.estimate, i.lower, i.upper}, 3);
}

static size_t xmr(const OracleList *given, double *answers) {
    return interval(answers, control_xmr(LIST(0), given[0].n));
}

static size_t laney(const OracleList *given, double *answers) {
    const size_t k = given[0].n;
    const double centre = control_centre(LIST(0), LIST(1), k);
    const double p = control_sigma_z_p(LIST(0), LIST(1), k, centre);
    const double u = control_sigma_z_u(LIST(0), LIST(1), k, centre);
    const StatsInterval limits = control_p(centre, LIST(1)[0], p);
    return put(answers,
               (double[]){p, limits.lower, limits.upper, u, control_u(centre, LIST(1)[0], u).upper},
               5);
}

static size_t g_chart(const OracleList *given, double *answers) {
    const StatsInterval limits = control_g(LIST(0), given[0].n);
    return put(answers, (double[]){limits.upper, control_g_quantile(limits.estimate, ARG(1))}, 2);
}

static size_t t_chart(const OracleList *given, double *answers) {
    return interval(answers, control_t(LIST(0), given[0].n));
}

static size_t blocks(const OracleList *given, double *answers) {
    const size_t length = (size_t)ARG(1);
    const BootstrapMean a = bootstrap_block_mean(LIST(0), given[0].n, length, false);
    const BootstrapMean b = bootstrap_block_mean(LIST(0), given[0].n, length, true);
    return put(answers, (double[]){a.mean, a.variance, b.mean, b.variance}, 4);
}

static size_t runs(const OracleList *given, double *answers) {
    const size_t n = (size_t)ARG(0), longest = (size_t)ARG(1), crossings = (size_t)ARG(2);
    return put(answers,
               (double[]){run_chart_p_longest(n, longest), run_chart_p_crossings(n, crossings),
                          run_chart_p_either(n, longest, crossings)},
               3);
}

static size_t shift(const OracleList *given, double *answers) {
    const RunChart chart = run_chart_about(LIST(0), given[0].n, 0.5);
    answers[0] = run_chart_p(&chart);
    return 1;
}

static size_t run_limits(const OracleList *given, double *answers) {
    const size_t n = (size_t)ARG(0);
    return put(answers, (double[]){run_chart_longest_limit(n), run_chart_crossings_limit(n)}, 2);
}

static size_t erlang(const OracleList *given, double *answers) {
    return put(answers, (double[]){erlang_b(ARG(0), ARG(1)), erlang_c(ARG(0), ARG(1))}, 2);
}

static size_t clustered(const OracleList *given, double *answers) {
    answers[0] = control_clustered_p(ARG(0), ARG(1), ARG(2));
    return 1;
}

static size_t beta_binomial(const OracleList *given, double *answers) {
    double own;
    const ShrinkagePrior prior = shrinkage_beta_binomial(LIST(0), LIST(1), given[0].n);
    const StatsInterval i = shrinkage_beta_posterior(&prior, LIST(0)[0], LIST(1)[0], 0.95, &own);
    return put(answers, (double[]){prior.mean, i.estimate, own}, 3);
}

static size_t gamma_poisson(const OracleList *given, double *answers) {
    double own;
    const ShrinkagePrior prior = shrinkage_gamma_poisson(LIST(0), LIST(1), given[0].n);
    const StatsInterval i = shrinkage_gamma_posterior(&prior, LIST(0)[0], LIST(1)[0], 0.95, &own);
    return put(answers, (double[]){prior.mean, i.estimate, own}, 3);
}

static size_t beta_posterior(const OracleList *given, double *answers) {
    const ShrinkagePrior prior = {ARG(0), ARG(1), ARG(0) / (ARG(0) + ARG(1)), false};
    const StatsInterval i = shrinkage_beta_posterior(&prior, ARG(2), ARG(3), 0.95, NULL);
    return put(answers, (double[]){i.lower, i.upper}, 2);
}

// The likelihoods are maximised in R by differences: 1e-4 is what that gives.
const OracleEntry oracle_units[] = {
    {"funnel_binomial_limit", funnel_binomial, 1e-9, 1e-14},
    {"funnel_poisson_limit", funnel_poisson, 1e-9, 1e-13},
    {"funnel_binomial_p", funnel_p_of, 1e-9, 0},
    {"expected_ratio", expected_ratios, 1e-9, 0},
    {"pooled", pooled, 1e-9, 1e-12},
    {"winsorise", winsorise, 1e-14, 0},
    {"expected_limit", expected_limits, 1e-9, 1e-13},
    {"xmr", xmr, 1e-9, 1e-14},
    {"laney", laney, 1e-9, 1e-14},
    {"g_chart", g_chart, 1e-12, 0},
    {"t_chart", t_chart, 1e-9, 1e-13},
    {"blocks", blocks, 1e-9, 1e-14},
    {"runs", runs, 1e-9, 1e-15},
    {"run_limits", run_limits, 0, 0},
    {"shift", shift, 1e-9, 0},
    {"erlang", erlang, 1e-9, 0},
    {"clustered", clustered, 1e-9, 0},
    {"beta_binomial", beta_binomial, 1e-4, 0},
    {"gamma_poisson", gamma_poisson, 1e-4, 0},
    {"beta_posterior", beta_posterior, 1e-9, 0},
    {NULL, NULL, 0, 0},
};
