// SPDX-License-Identifier: GPL-3.0-or-later
// Logistic regression where maximum likelihood has no finite answer, and how risks are judged.
#include "stats/calibration.h"
#include "stats/logistic.h"

#include <check.h>
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdlib.h>

START_TEST(complete_separation_is_told) {
    double design[] = {1, 1, 1, 2, 1, 3, 1, 4, 1, 5, 1, 6}, events[] = {0, 0, 0, 1, 1, 1}, b[2],
           v[4];
    LogisticData data = {design, events, NULL, 6, 2, NULL, 0};
    LogisticFit fit = logistic_fit(&data, b, v);
    ck_assert_int_eq(fit.status, LOGISTIC_SEPARATED);
    ck_assert(b[0] == -INFINITY && b[1] == INFINITY && fit.deviance == 0);
    ck_assert_double_nan(v[3]);
    // Firth 1993's estimates: checks.csv of the published values, logit.firth.complete
    fit = logistic_firth(&data, b, v);
    ck_assert_int_eq(fit.status, LOGISTIC_CONVERGED);
    ck_assert_double_eq_tol(b[1], 1.12891248856, 1e-10);
    ck_assert_double_eq_tol(b[0], -3.95119370997, 1e-10);
}
END_TEST

START_TEST(only_the_separated_coefficient_is_infinite) {
    // 0/20 against 7/25 in one half, 5/10 in both of a second factor's levels: the base risk of
    // the first is 0, the second's log odds are 0 (definition)
    double design[] = {1, 0, 0, 1, 1, 0, 1, 1, 1}, events[] = {0, 5, 5}, trials[] = {20, 10, 10},
           b[3];
    LogisticData data = {design, events, trials, 3, 3, NULL, 0};
    ck_assert_int_eq(logistic_fit(&data, b, NULL).status, LOGISTIC_SEPARATED);
    ck_assert(b[0] == -INFINITY && b[1] == INFINITY);
    ck_assert_double_eq_tol(b[2], 0, 1e-12);
    ck_assert(logistic_risk(b, design, 3) == 0);
    // the same told by the columns that are 1
    const uint16_t ones[] = {0, 3, 3, 0, 1, 3, 0, 1, 2};
    data = (LogisticData){NULL, events, trials, 3, 3, ones, 3};
    ck_assert_int_eq(logistic_fit(&data, b, NULL).status, LOGISTIC_SEPARATED);
    ck_assert(b[0] == -INFINITY && b[1] == INFINITY);
    ck_assert_double_eq_tol(b[2], 0, 1e-12);
    ck_assert(logistic_risk_of(b, &data, 0) == 0);
    // and nothing of it where separation is asked for alone
    ck_assert_int_eq(logistic_fit_unseparated(&data, b, NULL).status, LOGISTIC_SEPARATED);
    ck_assert(isnan(b[0]) && isnan(b[1]) && isnan(b[2]));
    events[0] = 1;
    double whole[3];
    ck_assert_int_eq(logistic_fit_unseparated(&data, b, NULL).status, LOGISTIC_CONVERGED);
    logistic_fit(&data, whole, NULL);
    ck_assert(b[0] == whole[0] && b[1] == whole[1] && b[2] == whole[2]);
}
END_TEST

START_TEST(penalised_table_is_haldanes) {
    // one factor of two levels: Firth adds a half to each cell (Heinze & Schemper 2002, section 2)
    double design[] = {1, 0, 1, 1}, events[] = {0, 7}, trials[] = {20, 25}, b[2], v[4];
    LogisticData data = {design, events, trials, 2, 2, NULL, 0};
    logistic_firth(&data, b, v);
    ck_assert_double_eq_tol(b[1], log(7.5 / 18.5 / (0.5 / 20.5)), 1e-12);
    StatsInterval i = logistic_firth_limits(&data, 1, 0.95);
    ck_assert_double_eq_tol(i.estimate, b[1], 1e-10);
    ck_assert(i.lower > 0 && i.lower < b[1] && i.upper > b[1]);
    StatsInterval wider = logistic_firth_limits(&data, 1, 0.99);
    ck_assert(wider.lower < i.lower && wider.upper > i.upper);
    const uint16_t ones[] = {0, 2, 0, 1};
    data = (LogisticData){NULL, events, trials, 2, 2, ones, 2};
    logistic_firth(&data, b, v);
    ck_assert_double_eq_tol(b[1], log(7.5 / 18.5 / (0.5 / 20.5)), 1e-12);
    // at the estimates risks are 0.5/21 and 7.5/26 and the information is the expected one
    ck_assert_double_eq_tol(v[3], 1 / (20 * 0.5 * 20.5 / (21.0 * 21)) + 1 / (25 * 7.5 * 18.5 / 676),
                            1e-9);
    ck_assert_double_eq_tol(logistic_firth_limits(&data, 1, 0.95).upper, i.upper, 1e-8);
}
END_TEST

START_TEST(columns_that_say_nothing_new_are_dropped) {
    double design[] = {1, 1, 2, 0, 1, 2, 4, 0, 1, 3, 6, 0, 1, 4, 8, 0}, events[] = {1, 2, 4, 2};
    double trials[] = {5, 5, 5, 5}, b[4], without[2];
    LogisticData data = {design, events, trials, 4, 4, NULL, 0};
    LogisticFit fit = logistic_fit(&data, b, NULL);
    ck_assert_int_eq(fit.status, LOGISTIC_CONVERGED);
    ck_assert_uint_eq(fit.parameters, 2);
    ck_assert(isnan(b[2]) && isnan(b[3]));
    double narrow[] = {1, 1, 1, 2, 1, 3, 1, 4};
    LogisticData two = {narrow, events, trials, 4, 2, NULL, 0};
    logistic_fit(&two, without, NULL);
    ck_assert_double_eq_tol(b[1], without[1], 1e-12);
    ck_assert_double_nan(logistic_firth_limits(&data, 2, 0.95).lower);
}
END_TEST

START_TEST(impossible_data_give_nothing) {
    double design[] = {1, 1}, events[] = {2, 0}, trials[] = {1, 1}, none[] = {0, 0}, b[1];
    LogisticData data = {design, events, trials, 2, 1, NULL, 0};
    ck_assert_int_eq(logistic_fit(&data, b, NULL).status, LOGISTIC_IMPOSSIBLE);
    ck_assert_double_nan(b[0]);
    LogisticData empty = {design, none, none, 2, 1, NULL, 0};
    ck_assert_int_eq(logistic_firth(&empty, b, NULL).status, LOGISTIC_IMPOSSIBLE);
}
END_TEST

START_TEST(risks_judged) {
    // by hand: of 2 x 3 pairs, 5 in order and one tied
    double risk[] = {0.1, 0.4, 0.4, 0.8, 0.2}, events[] = {0, 1, 0, 1, 0};
    ck_assert_double_eq(calibration_c_statistic(risk, events, NULL, 5), 5.5 / 6);
    ck_assert_double_eq_tol(calibration_brier(risk, events, NULL, 5),
                            (0.01 + 0.36 + 0.16 + 0.04 + 0.04) / 5, 1e-15);
    ck_assert_double_nan(calibration_c_statistic(risk, events, NULL, 1));
    CalibrationGroup g[3];
    double c;
    ck_assert_uint_eq(calibration_groups(risk, events, NULL, 5, 2, g, &c), 2);
    ck_assert_double_eq(c, 5.5 / 6);
    ck_assert(g[0].trials == 4 && g[0].events == 1 && g[1].events == 1);
    ck_assert_double_eq_tol(g[0].expected, 1.1, 1e-15);
    double ties[] = {0.1, 0.1, 0.1, 0.5, 0.6, 0.7}, one[6] = {0, 1, 0, 0, 1, 1};
    ck_assert_uint_eq(calibration_groups(ties, one, NULL, 6, 3, g, NULL), 3);
    ck_assert(g[0].trials == 3 && g[1].lowest == 0.5 && g[2].lowest == 0.6 && g[2].highest == 0.7);
}
END_TEST

int main(void) {
    gsl_set_error_handler_off();
    Suite *suite = suite_create("stats: logistic regression");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, complete_separation_is_told);
    tcase_add_test(tests, only_the_separated_coefficient_is_infinite);
    tcase_add_test(tests, penalised_table_is_haldanes);
    tcase_add_test(tests, columns_that_say_nothing_new_are_dropped);
    tcase_add_test(tests, impossible_data_give_nothing);
    tcase_add_test(tests, risks_judged);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
