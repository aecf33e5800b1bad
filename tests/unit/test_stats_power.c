// SPDX-License-Identifier: GPL-3.0-or-later
// Power: exact sums against R's brute force, published examples, and a simulation.
#include "stats/power.h"

#include <check.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>

START_TEST(shares_against_brute_force) {
    // computed in R 4.2.2 by a double loop over both counts with dbinom, phyper and dhyper
    ck_assert_double_eq_tol(power_shares(50, 0.5, 50, 0.75, 0.05), 0.742534128297, 1e-10);
    ck_assert_double_eq_tol(power_shares(30, 0.1, 45, 0.3, 0.05), 0.540957396161, 1e-10);
    ck_assert_double_eq_tol(power_shares(10, 0.2, 10, 0.9, 0.05), 0.936659845136, 1e-10);
    ck_assert_double_eq_tol(power_shares(60, 0.05, 60, 0.2, 0.05), 0.716374155081, 1e-10);
    ck_assert_double_eq_tol(power_shares(400, 0.2, 500, 0.28, 0.01), 0.583848967458, 1e-10);
    ck_assert_double_eq_tol(power_shares(3000, 0.22, 3000, 0.19, 0.05), 0.821003946164, 1e-10);
    ck_assert_double_eq_tol(power_shares(200, 0.5, 150, 0.8, 1e-12), 0.086513488125, 1e-10);
    ck_assert_double_nan(power_shares(200, 0.5, 150, 0.8, 1e-101));
    ck_assert_double_nan(power_shares(0, 0.5, 10, 0.5, 0.05));
    ck_assert_double_nan(power_shares(10, 1.5, 10, 0.5, 0.05));
}
END_TEST

START_TEST(rates_against_brute_force) {
    // computed in R 4.2.2 by a double loop with dpois and pbinom
    ck_assert_double_eq_tol(power_rates(10, 20, 0.5, 0.05), 0.373513831492, 1e-10);
    ck_assert_double_eq_tol(power_rates(5, 30, 0.3, 0.05), 0.504010723796, 1e-10);
    ck_assert_double_eq_tol(power_rates(40, 40, 0.5, 0.05), 0.038126145664, 1e-10);
    ck_assert_double_nan(power_rates(0, 3, 0.5, 0.05));
}
END_TEST

// From 10 million events on the approximation goes on where the exact sum ends; far beyond it is
// sure.
START_TEST(rates_of_many_events) {
    ck_assert_double_eq_tol(power_rates(5.001e6, 4.995e6, 0.5, 0.05),
                            power_rates(5.005e6, 4.999e6, 0.5, 0.05), 1e-3);
    ck_assert_double_eq_tol(power_rates(2.0005e6, 7.9935e6, 0.2, 0.01),
                            power_rates(2.0025e6, 8.0015e6, 0.2, 0.01), 2e-3);
    ck_assert_double_eq(power_rates(0.22, 1e300, 0.5, 0.05), 1);
}
END_TEST

static double normal(double n, const void *p) {
    return power_shares_normal(n, ((const double *)p)[0], ((const double *)p)[1], 0.05);
}

START_TEST(published_examples) {
    // R's help page of power.prop.test: n = 50, 0.50 against 0.75 has power 0.740; 0.90 needs n
    // = 76.7
    ck_assert_double_eq_tol(power_shares_normal(50, 0.50, 0.75, 0.05), 0.740, 0.0005);
    const double p[] = {0.50, 0.75};
    ck_assert_double_eq(power_size(normal, p, 0.90, 1e6), 77);
    ck_assert_double_eq(power_size(normal, p, 0.90, 77), 77);
    ck_assert_double_nan(power_size(normal, p, 0.90, 76));
    // the exact test agrees with the approximation as far as that goes
    ck_assert_double_eq_tol(power_shares(77, 0.50, 77, 0.75, 0.05), 0.90, 0.02);
}
END_TEST

START_TEST(ranks) {
    // Noether 1987, by hand: n = 20 each, P(X < Y) = 0.75: shift = 400 * 0.25 / sqrt(400 * 41 / 12)
    // = 2.70501; with z = 1.95996 the power is Phi(0.74505) + Phi(-4.66) = 0.77188
    ck_assert_double_eq_tol(power_ranks(20, 20, 0.75, 0.05), 0.77188, 1e-5);
    ck_assert_double_eq_tol(power_ranks(30, 30, 0.5, 0.05), 0.05, 1e-12);
    const double x[] = {1, 2, 3, 4};
    // times 2: 2, 4, 6, 8; below or equal halves: (1 + .5) + (3 + .5) + 4 + 4 of 16
    ck_assert_double_eq_tol(power_superiority(x, 4, 2), 13.0 / 16, 1e-15);
    ck_assert_double_eq_tol(power_superiority(x, 4, 1), 0.5, 1e-15);
    ck_assert_double_nan(power_superiority(x, 0, 2));
}
END_TEST

// Two-sided mid-P of Fisher's test by its definition, from GSL's hypergeometric.
static double midp(unsigned x, unsigned n1, unsigned y, unsigned n2) {
    double low = 0, high = 0;
    const double own = gsl_ran_hypergeometric_pdf(x, n1, n2, x + y);
    for (unsigned k = 0; k <= x + y && k <= n1; k++)
        *(k < x ? &low : &high) += k == x ? 0 : gsl_ran_hypergeometric_pdf(k, n1, n2, x + y);
    return fmin(1, 2 * fmin(low + own / 2, high + own / 2));
}

START_TEST(simulated) {
    enum { RUNS = 20000 };
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 1961);
    int seen = 0;
    for (int i = 0; i < RUNS; i++) {
        const unsigned x = gsl_ran_binomial(rng, 0.15, 120), y = gsl_ran_binomial(rng, 0.28, 90);
        seen += midp(x, 120, y, 90) <= 0.05;
    }
    gsl_rng_free(rng);
    const double power = power_shares(120, 0.15, 90, 0.28, 0.05);
    ck_assert_double_eq_tol((double)seen / RUNS, power, 4 * sqrt(power * (1 - power) / RUNS));
}
END_TEST

int main(void) {
    Suite *suite = suite_create("stats: power");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, shares_against_brute_force);
    tcase_add_test(tests, rates_against_brute_force);
    tcase_add_test(tests, rates_of_many_events);
    tcase_add_test(tests, published_examples);
    tcase_add_test(tests, ranks);
    tcase_add_test(tests, simulated);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
