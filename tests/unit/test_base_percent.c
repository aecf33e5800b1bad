// SPDX-License-Identifier: GPL-3.0-or-later
// Per cent as people read it. The expected texts are the project's own convention.
#include "base/percent.h"

#include <check.h>
#include <glib.h>
#include <math.h>
#include <stdlib.h>

static void is(char *got, const char *text) {
    ck_assert_str_eq(got, text);
    g_free(got);
}

START_TEST(decimals_follow_the_size) {
    static const double value[] = {0.123, 0.0995, 0.099, 0.0123, 0.0012, 0, NAN};
    static const int decimals[] = {0, 0, 1, 1, 2, 0, 0};
    for (int i = 0; i < 7; i++)
        ck_assert_int_eq(percent_decimals(value[i]), decimals[i]);
}
END_TEST

START_TEST(one_form) {
    is(percent_text(0.123, 0), "12 %");
    is(percent_interval(0.12, 0.09, 0.16, 0), "12 % (9 to 16)");
    is(percent_interval(0.5, NAN, 0.75, 0), "50 % (at most 75)");
    is(percent_interval(0.5, 0.25, NAN, 0), "50 % (at least 25)");
    is(percent_interval(0.5, NAN, NAN, 0), "50 % (no interval)");
    is(percent_exact(0.95, 4), "95 %");
    is(percent_exact(0.175, 3), "17.5 %");
    is(percent_text(-0.25, 0), "−25 %");
}
END_TEST

// A rounded figure must not say never or always of what is neither.
START_TEST(neither_nothing_nor_all) {
    is(percent_interval(0, 0, 0.0031, 0), "0 % (0 to 0.3)");
    is(percent_text(1.0 / 4017, 0), "0.02 %");
    is(percent_interval(0.9996, 0.985, 1, 0), "99.96 % (98 to 100)");
    is(percent_text(1e-12, 0), "0.000000 %"); // an end to it
    is(percent_text(1, 0), "100 %");
    is(percent_text(1 - 1e-15, 0), "100 %"); // a sum of parts
    is(percent_text(0, 0), "0 %");
    is(percent_exact(0.9996, 3), "99.96 %");
    is(percent_exact(0.999999, 4), "99.9999 %");
    is(percent_exact(1, 4), "100 %");
}
END_TEST

int main(void) {
    Suite *suite = suite_create("percent");
    TCase *all = tcase_create("all");
    tcase_add_test(all, decimals_follow_the_size);
    tcase_add_test(all, one_form);
    tcase_add_test(all, neither_nothing_nor_all);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
