// SPDX-License-Identifier: GPL-3.0-or-later
// Funnels: outliers do not hide themselves or each other, whoever is named first; edges.
#include "stats/funnel.h"
#include "stats/pooled.h"

#include <check.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>

enum { UNITS = 14, MANY = 300 };

// 14 units of 350 records at 0.2, within what chance does (z from -1.3 to 1.3), in any order.
static const double z_plain[UNITS] = {-1.3, -1,  -.8, -.6, -.45, -.3, -.1,
                                      .1,   .25, .4,  .6,  .8,   1,   1.3};

static double p_of(const double *value, const double *variance, long judged) {
    const FunnelUnits units = {UNITS, value, variance, 0.16};
    return funnel_p(0, value[judged], 0.2, variance[judged], funnel_tau2(&units, judged, 0));
}

static void plain(double *value, double *variance) {
    for (int i = 0; i < UNITS; i++) {
        variance[i] = 0.16 / 350;
        value[i] = 0.2 + z_plain[i] * sqrt(variance[i]);
    }
}

START_TEST(outliers_do_not_hide) {
    double value[UNITS], variance[UNITS];
    plain(value, variance);
    for (int i = 0; i < UNITS; i++)
        ck_assert_double_gt(p_of(value, variance, i), 0.1);
    value[3] += 8 * sqrt(variance[3]);
    ck_assert_double_lt(p_of(value, variance, 3), 1e-6);
    value[9] += 9 * sqrt(variance[9]);
    value[11] -= 9 * sqrt(variance[11]);
    ck_assert_double_lt(p_of(value, variance, 3), 1e-5);
    ck_assert_double_lt(p_of(value, variance, 9), 1e-5);
    ck_assert_double_lt(p_of(value, variance, 11), 1e-5);
    ck_assert_double_gt(p_of(value, variance, 0), 0.1);
}
END_TEST

START_TEST(order_changes_nothing) {
    double value[UNITS], variance[UNITS], turned[UNITS], of_turned[UNITS];
    plain(value, variance);
    for (int i = 0; i < UNITS; i++) {
        variance[i] *= 1 + i % 3;
        value[i] += i % 4 == 0 ? 0.06 : 0;
    }
    for (int i = 0; i < UNITS; i++) {
        turned[(i * 5 + 3) % UNITS] = value[i];
        of_turned[(i * 5 + 3) % UNITS] = variance[i];
    }
    for (int i = 0; i < UNITS; i++) {
        const double p = p_of(value, variance, i);
        ck_assert_double_eq(p, p_of(turned, of_turned, (i * 5 + 3) % UNITS));
    }
}
END_TEST

START_TEST(spread_is_allowed_for) {
    double value[UNITS], variance[UNITS];
    plain(value, variance);
    const FunnelUnits narrow = {UNITS, value, variance, 0.16};
    const double before = funnel_own_tau2(&narrow, FUNNEL_NOBODY, NULL);
    ck_assert_double_eq_tol(before, 0, 1e-12);
    for (int i = 0; i < UNITS; i++)
        value[i] = 0.2 + 4 * (value[i] - 0.2);
    // z squared then has a mean of about 16 times 0.62: tau2 is that less 1, in variances
    const double after = funnel_own_tau2(&narrow, FUNNEL_NOBODY, NULL) / variance[0];
    ck_assert_double_gt(after, 7);
    ck_assert_double_lt(after, 13);
    ck_assert_double_gt(p_of(value, variance, 0), 0.01); // z is -5.2: by chance alone 2e-7
}
END_TEST

// The search as funnel.h words it, one member after the other, with everything done afresh.
typedef struct {
    double value, variance, distance;
} Member;

static int by_value(const void *a, const void *b) {
    const Member *x = a, *y = b;
    return (x->value > y->value) - (x->value < y->value);
}

static int by_distance(const void *a, const void *b) {
    const Member *x = a, *y = b;
    return (x->distance > y->distance) - (x->distance < y->distance);
}

static void arrange(Member *m, size_t n, double mean, double tau2) {
    for (size_t i = 0; i < n; i++)
        m[i].distance = fabs(m[i].value - mean) / sqrt(m[i].variance + tau2);
    qsort(m, n, sizeof *m, by_distance);
}

// Of the first h.
static void estimate(const Member *m, size_t n, size_t h, double *mean, double *tau2) {
    double value[MANY], variance[MANY];
    for (size_t i = 0; i < h; i++) {
        value[i] = m[i].value;
        variance[i] = m[i].variance;
    }
    const double a = (double)h / (double)n, q = gsl_cdf_ugaussian_Pinv((1 + a) / 2);
    const double inner = h < n ? 1 - 2 * q * gsl_ran_ugaussian_pdf(q) / a : 1;
    *tau2 = pooled_tau2(h, value, variance, (double)(h - 1) * inner, 0, mean);
}

static double one_by_one(Member *m, size_t n, size_t *h) {
    double all = 0, seen = 0, mean = 0, tau2 = 0;
    qsort(m, n, sizeof *m, by_value);
    for (size_t i = 0; i < n; i++)
        all += 1 / m[i].variance;
    for (size_t i = 0; i < n && seen < all / 2; i++) {
        seen += 1 / m[i].variance;
        mean = m[i].value;
    }
    *h = (size_t)ceil(0.8 * (double)n);
    for (int i = 0; i < 20; i++) {
        arrange(m, n, mean, tau2);
        estimate(m, n, *h, &mean, &tau2);
    }
    while (*h < n) {
        arrange(m, n, mean, tau2);
        if (m[*h].distance > gsl_cdf_ugaussian_Pinv(1 - 0.0005))
            break;
        estimate(m, n, ++*h, &mean, &tau2);
    }
    return tau2;
}

START_TEST(together_as_one_by_one) {
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    size_t stopped = 0;
    for (int network = 0; network < 60; network++) {
        Member member[MANY];
        double value[MANY], variance[MANY], freedom;
        const size_t n = 20 + gsl_rng_uniform_int(rng, MANY - 20), every = 4 + (size_t)network % 30;
        for (size_t i = 0; i < n; i++) {
            variance[i] = 0.16 / floor(gsl_ran_flat(rng, 20, 600));
            value[i] = gsl_ran_gaussian(rng, sqrt(variance[i] + 0.002)) + (i % every == 0) * 0.4;
            member[i] = (Member){value[i], variance[i], 0};
        }
        const FunnelUnits units = {n, value, variance, 0.16};
        size_t h;
        const double want = one_by_one(member, n, &h);
        ck_assert_double_eq_tol(funnel_own_tau2(&units, FUNNEL_NOBODY, &freedom) / want, 1, 1e-8);
        ck_assert_double_eq(freedom, (double)h - 1);
        stopped += h < n;
    }
    ck_assert_uint_gt(stopped, 20);
    gsl_rng_free(rng);
}
END_TEST

START_TEST(edges) {
    const double value[] = {0.1, NAN, 0.3}, variance[] = {0.01, INFINITY, 0};
    const FunnelUnits units = {3, value, variance, 0.09};
    double freedom;
    ck_assert_double_nan(funnel_own_tau2(&units, FUNNEL_NOBODY, &freedom));
    ck_assert_double_nan(funnel_tau2(&units, 0, NAN));
    ck_assert_double_nan(funnel_typical(0, NULL));
    ck_assert_double_eq(funnel_p(0.03, 0.5, 0.2, 0.01, NAN), 0.03);
    const StatsInterval limits = funnel_binomial_limits(40, 0.5, 0.01, 0.95);
    ck_assert(limits.lower >= 0 && limits.lower < 0.5 && limits.upper <= 1 && limits.upper > 0.5);
    ck_assert(funnel_binomial_limits(40, 0.5, 0.02, 0.95).upper > limits.upper);
    ck_assert(funnel_binomial_limit(1, 7, 0.975) == 1);
}
END_TEST

int main(void) {
    gsl_set_error_handler_off();
    Suite *suite = suite_create("funnel");
    TCase *all = tcase_create("all");
    tcase_add_test(all, outliers_do_not_hide);
    tcase_add_test(all, order_changes_nothing);
    tcase_add_test(all, spread_is_allowed_for);
    tcase_add_test(all, together_as_one_by_one);
    tcase_add_test(all, edges);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
