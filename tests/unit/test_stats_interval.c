// SPDX-License-Identifier: GPL-3.0-or-later
// Limits of proportions, rates, quantiles and mixes against printed values.
#include "stats/mix.h"
#include "stats/proportion.h"
#include "stats/quantile.h"
#include "stats/rate.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>

static void near_limits(StatsInterval i, double lower, double upper, double tolerance) {
    ck_assert_double_eq_tol(i.lower, lower, tolerance);
    ck_assert_double_eq_tol(i.upper, upper, tolerance);
}

START_TEST(proportions_of_newcombe) {
    // Newcombe 1998, Stat Med 17:857-872, Table I (81/263, 15/148, 0/20, 1/29)
    near_limits(proportion_wilson(81, 263, 0.95), 0.2553, 0.3662, 5e-5);
    near_limits(proportion_wilson(15, 148, 0.95), 0.0624, 0.1605, 5e-5);
    near_limits(proportion_clopper_pearson(15, 148, 0.95), 0.0578, 0.1617, 5e-5);
    near_limits(proportion_midp(81, 263, 0.95), 0.2544, 0.3658, 5e-5);
    near_limits(proportion_wilson_corrected(15, 148, 0.95), 0.0598, 0.1644, 5e-5);
    near_limits(proportion_wilson(1, 29, 0.95), 0.0061, 0.1718, 5e-5);
}
END_TEST

START_TEST(proportions_at_the_edges) {
    typedef StatsInterval (*Method)(double, double, double);
    Method methods[] = {proportion_wilson, proportion_clopper_pearson, proportion_midp,
                        proportion_wilson_corrected};
    for (size_t m = 0; m < sizeof methods / sizeof *methods; m++) {
        ck_assert_double_nan(methods[m](0, 0, 0.95).estimate);
        ck_assert_double_nan(methods[m](5, 4, 0.95).estimate);
        ck_assert_double_nan(methods[m](1, 4, 1).lower);
        ck_assert(methods[m](0, 20, 0.95).lower == 0);
        ck_assert(methods[m](20, 20, 0.95).upper == 1);
    }
    ck_assert(proportion_possible(0, 0));
    ck_assert(!proportion_possible(5, 4));
}
END_TEST

START_TEST(rates) {
    // Garwood 1936, Table V: counts 0, 1 and 5
    near_limits(rate_garwood(0, 1, 0.95), 0, 3.689, 5e-4);
    near_limits(rate_garwood(1, 1, 0.95), 0.0253, 5.572, 5e-4);
    near_limits(rate_garwood(5, 2, 0.95), 1.623 / 2, 11.668 / 2, 5e-4);
    ck_assert_double_nan(rate_garwood(0, 0, 0.95).estimate);
    ck_assert(!rate_possible(3, 0));
    // definition: with all weights 1 the gamma limits are Garwood's (Fay & Feuer 1997, section 2)
    StatsInterval exact = rate_garwood(7, 12, 0.9);
    near_limits(rate_fay_feuer(7, 7, 1, 12, 0.9), exact.lower, exact.upper, 1e-13);
    near_limits(rate_fay_feuer(0, 0, 1, 12, 0.95), 0, 3.688879454 / 12, 1e-9);
    StatsInterval none = rate_fay_feuer(0, 0, 0, 1, 0.95);
    ck_assert(none.estimate == 0 && none.lower == 0 && isnan(none.upper));
}
END_TEST

START_TEST(quantiles) {
    double values[] = {1, 2, 3, 4};
    ck_assert_double_eq(quantile_hf2(values, 4, 0.5), 2.5);
    ck_assert_double_eq(quantile_hf2(values, 4, 0.25), 1.5);
    ck_assert_double_eq(quantile_hf2(values, 4, 0.9), 4);
    ck_assert_double_nan(quantile_hf2(values, 0, 0.5));
    size_t lower, upper;
    quantile_ranks(20, 0.5, 0.95, &lower, &upper); // Conover 1999, table A3: 6 and 15
    ck_assert(lower == 6 && upper == 15);
    quantile_ranks(5, 0.5, 0.95, &lower, &upper);
    ck_assert(lower == 0 && upper == 0);
    quantile_ranks(10000000, 0.5, 0.95, &lower, &upper); // R: qbinom(c(.025, .975), 1e7, .5)
    ck_assert(lower == 4996901 && upper == 5003100);
}
END_TEST

START_TEST(goodman_of_two_is_wilson) {
    // methods.md of the published checks, trap 16: k = 2 is Wilson at level 1 - a/2
    StatsInterval wilson = proportion_wilson(10, 20, 0.975);
    near_limits(mix_goodman(10, 20, 2, 0.95), wilson.lower, wilson.upper, 1e-15);
    ck_assert_double_nan(mix_goodman(0, 0, 3, 0.95).estimate);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("stats: intervals");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, proportions_of_newcombe);
    tcase_add_test(tests, proportions_at_the_edges);
    tcase_add_test(tests, rates);
    tcase_add_test(tests, quantiles);
    tcase_add_test(tests, goodman_of_two_is_wilson);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
