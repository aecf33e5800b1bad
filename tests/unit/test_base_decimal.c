// SPDX-License-Identifier: GPL-3.0-or-later
// Decimal texts against those of the C library's printf.
#include "base/decimal.h"

#include <check.h>
#include <glib.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const int digits[] = {1, 2, 3, 9, 12, 15};

// The text is printf's, and the rounded number the one that it reads as.
static void as_printf(double value) {
    for (size_t i = 0; i < G_N_ELEMENTS(digits); i++) {
        char expected[64], got[DECIMAL_SIZE];
        snprintf(expected, sizeof expected, "%.*g", digits[i], value + 0.0);
        decimal_text(got, value, digits[i]);
        ck_assert_msg(!strcmp(got, expected), "%.17g, %d digits: %s, not %s", value, digits[i], got,
                      expected);
        const double rounded = decimal_rounded(value, digits[i]);
        ck_assert_msg(rounded == strtod(expected, NULL), "%.17g, %d digits: %.17g", value,
                      digits[i], rounded);
    }
}

START_TEST(edges) {
    static const double cases[] = {0,
                                   -0.0,
                                   0.5,
                                   1.5,
                                   2.5,
                                   0.125,
                                   0.375,
                                   9.5,
                                   99.5,
                                   0.95,
                                   0.995,
                                   9.9999999999995,
                                   99999999999.95,
                                   999999999999.5,
                                   999999999999.4,
                                   0.00099999999999999,
                                   0.000099999999999999,
                                   0.00009999999999995,
                                   1e-4,
                                   1e-5,
                                   5e-324,
                                   1e22,
                                   1e23,
                                   1.7976931348623157e308,
                                   123456789012345678.0,
                                   2.0 / 3,
                                   1e15,
                                   999999999999999};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        as_printf(cases[i]);
        as_printf(-cases[i]);
    }
    for (int e = -25; e <= 25; e++) { // powers of ten, and the numbers beside them
        const double power = pow(10, e);
        as_printf(power);
        as_printf(nextafter(power, 0));
        as_printf(nextafter(power, INFINITY));
    }
}
END_TEST

START_TEST(many) {
    GRand *random = g_rand_new_with_seed(1);
    for (int k = 0; k < 10000; k++) {
        const double part = g_rand_double(random), n = g_rand_int_range(random, 1, 5000);
        as_printf(part);
        as_printf(floor(part * n) / n);            // shares
        as_printf((floor(part * n) + 0.5) / 1000); // half way at three decimals
        as_printf(-part * pow(10, g_rand_int_range(random, -8, 18)));
    }
    g_rand_free(random);
}
END_TEST

START_TEST(not_finite) {
    static const double cases[] = {NAN, INFINITY, -INFINITY};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        char text[DECIMAL_SIZE] = "x";
        decimal_text(text, cases[i], 12);
        ck_assert_str_eq(text, "");
        ck_assert(!isfinite(decimal_rounded(cases[i], 12)));
    }
}
END_TEST

int main(void) {
    Suite *suite = suite_create("decimal");
    TCase *all = tcase_create("all");
    tcase_add_test(all, edges);
    tcase_add_test(all, many);
    tcase_add_test(all, not_finite);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
