// SPDX-License-Identifier: GPL-3.0-or-later
// Rounded minutes: the bound that is asked of a column makes the exact binomial test superfluous.
#include "intake/habits.h"

#include <check.h>
#include <gsl/gsl_cdf.h>
#include <stdlib.h>

START_TEST(bound_is_half_of_the_stamps) {
    // x stamps of n rounded for certain, the rest by chance: share = x/n + (1 - x/n)/every
    ck_assert(habits_rounded(12, 20, 5)); // 0.6 = 0.5 + 0.5/5
    ck_assert(!habits_rounded(11, 20, 5));
    ck_assert(habits_rounded(31, 60, 30)); // 0.5167 = 0.5 + 0.5/30
    ck_assert(!habits_rounded(30, 60, 30));
    ck_assert(!habits_rounded(19, 19, 5)); // too few
    ck_assert(!habits_rounded(0, 0, 5));
}
END_TEST

// Of every number of stamps, the fewest rounded ones that pass are, were minutes uniform, rarer
// than one in a thousand.
START_TEST(bound_is_beyond_chance) {
    static const unsigned every[] = {5, 30};
    for (size_t e = 0; e < 2; e++)
        for (unsigned n = HABITS_LEAST; n <= 2000; n++) {
            unsigned fewest = 0;
            while (!habits_rounded(fewest, n, every[e]))
                fewest++;
            ck_assert_double_lt(gsl_cdf_binomial_Q(fewest - 1, 1.0 / every[e], n), 0.001);
        }
}
END_TEST

int main(void) {
    Suite *suite = suite_create("intake: habits of writing times");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, bound_is_half_of_the_stamps);
    tcase_add_test(tests, bound_is_beyond_chance);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
