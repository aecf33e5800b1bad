// SPDX-License-Identifier: GPL-3.0-or-later
// Trends: closed forms and edges. Printed values are among the published checks.
#include "stats/trend.h"

#include <check.h>
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdlib.h>

START_TEST(two_periods_are_a_ratio) {
    // the maximum likelihood of two periods is their ratio, with Wald's error on the log
    // (definition)
    double events[] = {12, 30}, exposure[] = {100, 200}, chance;
    TrendFit fit = trend_poisson(events, exposure, NULL, 2);
    ck_assert_double_eq_tol(fit.slope, log(30.0 / 200 / (12.0 / 100)), 1e-14);
    ck_assert_double_eq_tol(fit.slope_error, sqrt(1 / 12.0 + 1 / 30.0), 1e-14);
    ck_assert_double_eq_tol(fit.intercept + fit.slope, log(0.12), 1e-14);
    ck_assert_double_nan(fit.phi);
    ck_assert_double_eq_tol(trend_ratio(&fit, 0.95).estimate, 1.25, 1e-14);
    ck_assert(trend_ratio_scaled(&fit, 0.95, &chance).lower == trend_ratio(&fit, 0.95).lower);
    ck_assert_double_eq_tol(chance, erfc(fit.slope / fit.slope_error / M_SQRT2), 1e-15);
}
END_TEST

START_TEST(two_shares_are_an_odds_ratio) {
    double events[] = {12, 30}, trials[] = {100, 200};
    TrendFit fit = trend_logistic(events, trials, NULL, 2);
    ck_assert_double_eq_tol(fit.slope, log(30.0 / 170 / (12.0 / 88)), 1e-13);
    ck_assert_double_eq_tol(fit.slope_error, sqrt(1 / 12.0 + 1 / 88.0 + 1 / 30.0 + 1 / 170.0),
                            1e-12);
}
END_TEST

START_TEST(edges) {
    double none[] = {0, 0, 0}, late[] = {0, 0, 5}, early[] = {3, 0, 0}, exposure[] = {10, 0, 10};
    double some[] = {3, 1, 4}, same[] = {2, 2, 2}, all[] = {10, 10, 10}, wrong[] = {3, 1, 40};
    ck_assert_double_nan(trend_poisson(none, NULL, NULL, 3).slope);
    ck_assert(trend_poisson(late, NULL, NULL, 3).slope == INFINITY);
    ck_assert(trend_poisson(early, NULL, NULL, 3).slope == -INFINITY);
    TrendFit fit = trend_poisson(late, NULL, NULL, 3);
    ck_assert_double_nan(fit.slope_error);
    ck_assert_double_nan(trend_ratio(&fit, 0.95).lower);
    ck_assert_double_nan(trend_poisson(some, exposure, NULL, 3).slope); // an event without exposure
    ck_assert_double_nan(trend_poisson(some, NULL, same, 3).slope);
    ck_assert_double_nan(trend_poisson(some, NULL, NULL, 1).slope);
    ck_assert_double_nan(trend_score(none, NULL, NULL, 3, NULL));
    // a period without exposure is left out
    ck_assert_double_eq_tol(trend_poisson((double[]){2, 0, 8}, exposure, NULL, 3).slope, log(4) / 2,
                            1e-14);
    ck_assert_double_nan(trend_logistic(none, all, NULL, 3).slope);
    ck_assert_double_nan(trend_logistic(all, all, NULL, 3).slope);
    ck_assert_double_nan(trend_logistic(wrong, all, NULL, 3).slope);
    ck_assert(trend_logistic((double[]){0, 0, 4}, all, NULL, 3).slope == INFINITY);
}
END_TEST

START_TEST(over_dispersion_widens) {
    double events[] = {2, 30, 3, 40, 5, 60}, p, plain;
    TrendFit fit = trend_poisson(events, NULL, NULL, 6);
    ck_assert(fit.phi > 1);
    StatsInterval narrow = trend_ratio(&fit, 0.95), wide = trend_ratio_scaled(&fit, 0.95, &p);
    plain = erfc(fabs(fit.slope / fit.slope_error) / M_SQRT2);
    ck_assert(wide.lower < narrow.lower && wide.upper > narrow.upper && p > plain);
}
END_TEST

START_TEST(times_anywhere) {
    // moving the times moves the intercept alone; a trend of 40 powers of e stays exact
    double events[] = {3, 5, 4, 9, 12}, from[] = {2019, 2020, 2021, 2022, 2023};
    TrendFit a = trend_poisson(events, NULL, NULL, 5), b = trend_poisson(events, NULL, from, 5);
    ck_assert_double_eq_tol(a.slope, b.slope, 1e-12);
    ck_assert_double_eq_tol(a.slope_error, b.slope_error, 1e-12);
    ck_assert_double_eq_tol(a.deviance, b.deviance, 1e-9);
    double steep[] = {exp(20), exp(30), exp(40)};
    ck_assert_double_eq_tol(trend_poisson(steep, NULL, NULL, 3).slope, 10, 1e-11);
}
END_TEST

int main(void) {
    gsl_set_error_handler_off();
    Suite *suite = suite_create("stats: trends");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, two_periods_are_a_ratio);
    tcase_add_test(tests, two_shares_are_an_odds_ratio);
    tcase_add_test(tests, edges);
    tcase_add_test(tests, over_dispersion_widens);
    tcase_add_test(tests, times_anywhere);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
