// SPDX-License-Identifier: GPL-3.0-or-later
// How often intervals cover the truth, by simulation with a fixed seed. The coverages to expect are
// those of the published checks (tests/published/checks.csv, rows cov.*), where they come from
// enumeration; a simulation of R runs must land within 4 sqrt(c (1 - c) / R) of them.
#include "stats/capture.h"
#include "stats/difference.h"
#include "stats/mix.h"
#include "stats/proportion.h"
#include "stats/quantile.h"
#include "stats/ranking.h"
#include "stats/rate.h"
#include "stats/ratio.h"
#include "stats/survival.h"

#include <check.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>

enum { RUNS = 100000, FEWER = 20000, SEED = 20310101 };

static gsl_rng *random_numbers(void) {
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(r, SEED);
    return r;
}

static bool covers(StatsInterval i, double truth) {
    return i.lower <= truth && truth <= i.upper;
}

static void within(const char *what, int covered, int runs, double expected, double band) {
    double got = covered / (double)runs;
    ck_assert_msg(fabs(got - expected) <= band, "%s: %.5f covered, expected %.5f +- %.5f", what,
                  got, expected, band);
}

static void within_band(const char *what, int covered, int runs, double expected) {
    within(what, covered, runs, expected, 4 * sqrt(expected * (1 - expected) / runs));
}

START_TEST(proportions) {
    typedef StatsInterval (*Method)(double x, double n, double confidence);
    static const struct {
        const char *name;
        Method method;
        double p, expected;
    } cases[] = {
        {"Wilson", proportion_wilson, 0.02, 0.94010102},
        {"Wilson", proportion_wilson, 0.05, 0.92451633},
        {"Wilson", proportion_wilson, 0.1, 0.9568255},
        {"Wilson", proportion_wilson, 0.3, 0.97521792},
        {"Wilson", proportion_wilson, 0.5, 0.95861053},
        {"Clopper-Pearson", proportion_clopper_pearson, 0.02, 0.99293131},
        {"Clopper-Pearson", proportion_clopper_pearson, 0.1, 0.98874687},
        {"Clopper-Pearson", proportion_clopper_pearson, 0.3, 0.97521792},
        {"mid-P", proportion_midp, 0.05, 0.98409847},
        {"mid-P", proportion_midp, 0.2, 0.95632812},
        {"mid-P", proportion_midp, 0.3, 0.94737205},
        {"Wald", proportion_wald, 0.05, 0.63894014},
        {"Wald", proportion_wald, 0.2, 0.92084292},
    };
    gsl_rng *r = random_numbers();
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        StatsInterval limits[21];
        int covered = 0;
        for (int x = 0; x <= 20; x++)
            limits[x] = cases[c].method(x, 20, 0.95);
        for (int run = 0; run < RUNS; run++)
            covered += covers(limits[gsl_ran_binomial(r, cases[c].p, 20)], cases[c].p);
        within_band(cases[c].name, covered, RUNS, cases[c].expected);
    }
    gsl_rng_free(r);
}
END_TEST

// Of the limits of 12 units alike, n records each: how often all hold at once, by the binomial's
// sums.
static double all_hold(StatsInterval (*limits)(double, double, double), unsigned n, double p) {
    double one = 0;
    for (unsigned x = 0; x <= n; x++)
        if (covers(limits(x, n, ranking_confidence(12, 0.95)), p))
            one += gsl_ran_binomial_pdf(x, p, n);
    return pow(one, 12);
}

// Ranks rest on limits that all hold at once. Wilson's do not where a share is near 1.
START_TEST(many_at_once) {
    static const unsigned sizes[] = {1, 2, 5, 10, 20, 40, 80, 350};
    static const double shares[] = {0.5, 0.7, 0.895, 0.95, 0.98, 0.99, 0.998, 0.999};
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++)
        for (size_t k = 0; k < sizeof shares / sizeof *shares; k++)
            ck_assert_double_ge(all_hold(proportion_clopper_pearson, sizes[i], shares[k]), 0.95);
    ck_assert_double_lt(all_hold(proportion_wilson, 1, 0.895), 0.3);
    ck_assert_double_lt(all_hold(proportion_wilson, 80, 0.999), 0.4);
}
END_TEST

START_TEST(rates) {
    static const double means[] = {0.5, 1, 3, 10};
    static const double expected[] = {0.98561232, 0.98101184, 0.9880955, 0.97538634};
    gsl_rng *r = random_numbers();
    StatsInterval limits[60];
    for (int x = 0; x < 60; x++)
        limits[x] = rate_garwood(x, 1, 0.95);
    for (int c = 0; c < 4; c++) {
        int covered = 0;
        for (int run = 0; run < RUNS; run++) {
            unsigned x = gsl_ran_poisson(r, means[c]);
            ck_assert(x < 60);
            covered += covers(limits[x], means[c]);
        }
        within_band("Garwood", covered, RUNS, expected[c]);
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(rate_ratios) {
    static const double means[][2] = {{5, 5}, {10, 5}}, expected[] = {0.978151, 0.97531655};
    gsl_rng *r = random_numbers();
    for (int c = 0; c < 2; c++) {
        int covered = 0;
        for (int run = 0; run < FEWER; run++) {
            unsigned a = gsl_ran_poisson(r, means[c][0]), b = gsl_ran_poisson(r, means[c][1]);
            covered += covers(ratio_exact(a, 1, b, 1, 0.95), means[c][0] / means[c][1]);
        }
        within_band("conditional rate ratio", covered, FEWER, expected[c]);
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(differences) {
    static const struct {
        unsigned n1, n2;
        double p1, p2, expected;
    } cases[] = {{20, 20, 0.1, 0.1, 0.98316034},
                 {20, 20, 0.3, 0.1, 0.96071123},
                 {20, 20, 0.5, 0.5, 0.95747387},
                 {30, 10, 0.2, 0.05, 0.97076769}};
    gsl_rng *r = random_numbers();
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        int covered = 0;
        for (int run = 0; run < RUNS; run++) {
            unsigned a = gsl_ran_binomial(r, cases[c].p1, cases[c].n1);
            unsigned b = gsl_ran_binomial(r, cases[c].p2, cases[c].n2);
            StatsInterval i = difference_newcombe(a, cases[c].n1, b, cases[c].n2, 0.95);
            covered += covers(i, cases[c].p1 - cases[c].p2);
        }
        within_band("Newcombe 10", covered, RUNS, cases[c].expected);
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(mixes) {
    static const double shares[] = {0.4, 0.3, 0.2, 0.1};
    gsl_rng *r = random_numbers();
    int covered = 0;
    for (int run = 0; run < RUNS; run++) {
        unsigned counts[4], all = 0;
        gsl_ran_multinomial(r, 4, 50, shares, counts);
        for (int k = 0; k < 4; k++)
            all += covers(mix_goodman(counts[k], 50, 4, 0.95), shares[k]);
        covered += all == 4;
    }
    within_band("Goodman, all four shares", covered, RUNS, 0.96407281);
    gsl_rng_free(r);
}
END_TEST

START_TEST(two_lists) {
    typedef StatsInterval (*Method)(double n1, double n2, double both, double confidence);
    static const Method methods[] = {capture_wald, capture_log_normal, capture_logit};
    static const double expected[] = {0.91553492, 0.9412358, 0.95577696};
    gsl_rng *r = random_numbers();
    int covered[3] = {0, 0, 0};
    for (int run = 0; run < FEWER; run++) {
        unsigned first = gsl_ran_binomial(r, 0.5, 100), both = gsl_ran_binomial(r, 0.4, first);
        unsigned second = both + gsl_ran_binomial(r, 0.4, 100 - first);
        for (int m = 0; m < 3; m++)
            covered[m] += covers(methods[m](first, second, both, 0.95), 100);
    }
    for (int m = 0; m < 3; m++)
        within_band("two lists", covered[m], FEWER, expected[m]);
    gsl_rng_free(r);
}
END_TEST

// Exponential times of mean 1, censored at exponential times of mean 2.
static size_t draw(gsl_rng *r, size_t n, SurvivalStep *steps) {
    double times[64];
    bool event[64];
    size_t count;
    for (size_t i = 0; i < n; i++) {
        double end = gsl_ran_exponential(r, 1), censored = gsl_ran_exponential(r, 2);
        times[i] = fmin(end, censored);
        event[i] = end <= censored;
    }
    ck_assert(survival_curve(times, event, n, steps, &count));
    return count;
}

START_TEST(survival_at_the_true_median) {
    // these two were themselves simulated, 40,000 runs each: both errors count
    static const double expected[] = {0.951625, 0.93195};
    static const SurvivalLimits limits[] = {SURVIVAL_LOG_LOG, SURVIVAL_PLAIN};
    enum { EACH = 40000 };
    gsl_rng *r = random_numbers();
    SurvivalStep steps[30];
    int covered[2] = {0, 0}, medians = 0;
    for (int run = 0; run < EACH; run++) {
        size_t count = draw(r, 30, steps);
        for (int l = 0; l < 2; l++)
            covered[l] += covers(survival_at(steps, count, M_LN2, 0.95, limits[l]), 0.5);
        StatsInterval median = survival_quantile(steps, count, 0.5, 0.95, SURVIVAL_LOG_LOG);
        medians += median.lower <= M_LN2 && !(median.upper < M_LN2); // not reached: no upper end
    }
    const double band = 4 * sqrt(2 * 0.95 * 0.05 / EACH);
    for (int l = 0; l < 2; l++)
        within("survival", covered[l], EACH, expected[l], band);
    // limits of the median are those of survival turned round: they cover as often
    within("Brookmeyer-Crowley", medians, EACH, expected[0], band);
    gsl_rng_free(r);
}
END_TEST

START_TEST(quantiles) {
    // what the ranks promise is exact for any continuous distribution
    gsl_rng *r = random_numbers();
    size_t lower, upper;
    quantile_ranks(25, 0.75, 0.95, &lower, &upper);
    double expected = quantile_coverage(25, 0.75, lower, upper), values[25];
    ck_assert(expected >= 0.95);
    int covered = 0;
    for (int run = 0; run < FEWER; run++) {
        for (int i = 0; i < 25; i++)
            values[i] = gsl_ran_exponential(r, 1);
        quantile_sort(values, 25);
        covered += covers(quantile_interval(values, 25, 0.75, 0.95), -log(0.25));
    }
    within_band("upper quartile", covered, FEWER, expected);
    gsl_rng_free(r);
}
END_TEST

int main(void) {
    gsl_set_error_handler_off();
    Suite *suite = suite_create("stats: coverage");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, proportions);
    tcase_add_test(tests, many_at_once);
    tcase_add_test(tests, rates);
    tcase_add_test(tests, rate_ratios);
    tcase_add_test(tests, differences);
    tcase_add_test(tests, mixes);
    tcase_add_test(tests, two_lists);
    tcase_add_test(tests, survival_at_the_true_median);
    tcase_add_test(tests, quantiles);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
