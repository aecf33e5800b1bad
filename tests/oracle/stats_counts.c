// SPDX-License-Identifier: GPL-3.0-or-later
// Comparison with R: distributions, proportions, rates and their comparisons.
#include "stats.h"
#include "stats/difference.h"
#include "stats/distribution.h"
#include "stats/proportion.h"
#include "stats/quantile.h"
#include "stats/rate.h"
#include "stats/ratio.h"

// The i-th argument, a single number.
#define ARG(i) (given[i].values[0])

static size_t one(double *answers, double value) {
    answers[0] = value;
    return 1;
}

static size_t three(double *answers, double a, double b, double c) {
    answers[0] = a;
    answers[1] = b;
    answers[2] = c;
    return 3;
}

static size_t limits(double *answers, StatsInterval i) {
    return three(answers, i.estimate, i.lower, i.upper);
}

static size_t beta_quantile(const OracleList *given, double *answers) {
    return one(answers, distribution_beta_quantile(ARG(0), ARG(1), ARG(2)));
}

static size_t gamma_quantile(const OracleList *given, double *answers) {
    return one(answers, distribution_gamma_quantile(ARG(0), ARG(1)));
}

static size_t binomial_quantile(const OracleList *given, double *answers) {
    return one(answers, distribution_binomial_quantile(ARG(0), ARG(1), ARG(2)));
}

static size_t poisson_quantile(const OracleList *given, double *answers) {
    return one(answers, distribution_poisson_quantile(ARG(0), ARG(1)));
}

static size_t binomial(const OracleList *given, double *answers) {
    double x = ARG(0), n = ARG(1), p = ARG(2);
    return three(answers, distribution_binomial_point(x, n, p),
                 distribution_binomial_lower(x, n, p), distribution_binomial_upper(x, n, p));
}

static size_t poisson(const OracleList *given, double *answers) {
    double x = ARG(0), mean = ARG(1);
    return three(answers, distribution_poisson_point(x, mean), distribution_poisson_lower(x, mean),
                 distribution_poisson_upper(x, mean));
}

static size_t chisq_upper(const OracleList *given, double *answers) {
    return one(answers, distribution_chisq_upper(ARG(0), ARG(1)));
}

static size_t wilson(const OracleList *given, double *answers) {
    return limits(answers, proportion_wilson(ARG(0), ARG(1), ARG(2)));
}

static size_t wilson_corrected(const OracleList *given, double *answers) {
    return limits(answers, proportion_wilson_corrected(ARG(0), ARG(1), ARG(2)));
}

static size_t clopper_pearson(const OracleList *given, double *answers) {
    return limits(answers, proportion_clopper_pearson(ARG(0), ARG(1), ARG(2)));
}

static size_t midp(const OracleList *given, double *answers) {
    return limits(answers, proportion_midp(ARG(0), ARG(1), ARG(2)));
}

static size_t binomial_test(const OracleList *given, double *answers) {
    double x = ARG(0), n = ARG(1), p0 = ARG(2);
    return three(answers, proportion_test(x, n, p0), proportion_test_greater(x, n, p0),
                 proportion_test_less(x, n, p0));
}

static size_t newcombe(const OracleList *given, double *answers) {
    return limits(answers, difference_newcombe(ARG(0), ARG(1), ARG(2), ARG(3), ARG(4)));
}

static size_t mee(const OracleList *given, double *answers) {
    return limits(answers, difference_mee(ARG(0), ARG(1), ARG(2), ARG(3), ARG(4)));
}

static size_t miettinen_nurminen(const OracleList *given, double *answers) {
    return limits(answers, difference_miettinen_nurminen(ARG(0), ARG(1), ARG(2), ARG(3), ARG(4)));
}

static size_t garwood(const OracleList *given, double *answers) {
    return limits(answers, rate_garwood(ARG(0), ARG(1), ARG(2)));
}

static size_t rate_midp_limits(const OracleList *given, double *answers) {
    return limits(answers, rate_midp(ARG(0), ARG(1), ARG(2)));
}

static size_t fay_feuer(const OracleList *given, double *answers) {
    return limits(answers, rate_fay_feuer(ARG(0), ARG(1), ARG(2), ARG(3), ARG(4)));
}

static size_t poisson_test(const OracleList *given, double *answers) {
    answers[0] = rate_test_likelihood(ARG(0), ARG(1));
    answers[1] = rate_test(ARG(0), ARG(1));
    return 2;
}

static size_t ratio_limits(const OracleList *given, double *answers) {
    return limits(answers, ratio_exact(ARG(0), ARG(1), ARG(2), ARG(3), ARG(4)));
}

static size_t ratio_p(const OracleList *given, double *answers) {
    return one(answers, ratio_test(ARG(0), ARG(1), ARG(2), ARG(3), 1));
}

static size_t quantile_rank_pair(const OracleList *given, double *answers) {
    size_t lower, upper;
    quantile_ranks((size_t)ARG(0), ARG(1), ARG(2), &lower, &upper);
    answers[0] = (double)lower;
    answers[1] = (double)upper;
    return 2;
}

const OracleEntry oracle_counts[] = {
    {"beta_quantile", beta_quantile, 1e-9, 0},
    {"gamma_quantile", gamma_quantile, 1e-9, 0},
    {"binomial_quantile", binomial_quantile, 0, 0},
    {"poisson_quantile", poisson_quantile, 0, 0},
    {"binomial", binomial, 1e-9, 0},
    {"poisson", poisson, 1e-9, 0},
    {"chisq_upper", chisq_upper, 1e-9, 0},
    {"wilson", wilson, 1e-9, 0},
    {"wilson_corrected", wilson_corrected, 1e-9, 0},
    {"clopper_pearson", clopper_pearson, 1e-9, 0},
    {"midp", midp, 1e-9, 0},
    {"binomial_test", binomial_test, 1e-9, 0},
    {"newcombe", newcombe, 1e-9, 1e-15},
    {"mee", mee, 1e-9, 1e-15},
    {"miettinen_nurminen", miettinen_nurminen, 1e-9, 1e-15},
    {"garwood", garwood, 1e-9, 0},
    {"rate_midp", rate_midp_limits, 1e-9, 0},
    {"fay_feuer", fay_feuer, 1e-9, 0},
    {"poisson_test", poisson_test, 1e-9, 0},
    {"ratio_exact", ratio_limits, 1e-9, 0},
    {"ratio_test", ratio_p, 1e-9, 0},
    {"quantile_ranks", quantile_rank_pair, 0, 0},
    {NULL, NULL, 0, 0},
};
