// SPDX-License-Identifier: GPL-3.0-or-later
// Shifts and changes within strata: examples by hand, the definition by another function, and that
// one stratum is as none.
#include "stats/quantile.h"
#include "stats/shift.h"
#include "stats/strata.h"

#include <check.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LIST(...)                                                                                  \
    { sizeof((double[]){__VA_ARGS__}) / sizeof(double), (const double[]){__VA_ARGS__}, NULL }

// Weighted medians of all differences, worked out on paper.
START_TEST(shifts_by_hand) {
    // differences -1 and 1 weigh 1/4 (1 + 2 + 1), 0 and 4 likewise: 1/2 of 1 at 0, so halfway to 1
    const Runs x[] = {LIST(1), LIST(10, 14)}, y[] = {LIST(0, 2), LIST(10)};
    ck_assert_double_eq(shift_within_runs(x, y, 2, 0.95).estimate, 0.5);
    // 2 weighs 1/3, -5 weighs 1/3, four times 1 weigh 1/5 each: 17/15 at 1, half is 11/15
    const Runs u[] = {LIST(3), LIST(0), LIST(1, 1)}, v[] = {LIST(1), LIST(5), LIST(0, 0)};
    const StatsInterval shift = shift_within_runs(u, v, 3, 0.5);
    ck_assert_double_eq(shift.estimate, 1);
    // variances of U: 1/4, 1/4 and, for its ties, 4/12 (5 - 12/12) = 4/3; SD of the sum
    // sqrt(2/36 + 4/75) = 0.329983; 0.674490 of that is 0.222570: 0.510763 and 0.955904 are both
    // reached at 1
    ck_assert_double_eq(shift.lower, 1);
    ck_assert_double_eq(shift.upper, 1);
    // 1.959964 of it is 0.646755: 0.086578 is reached at -5, 1.380088 at 2
    const StatsInterval wide = shift_within_runs(u, v, 3, 0.95);
    ck_assert_double_eq(wide.lower, -5);
    ck_assert_double_eq(wide.upper, 2);
    // strata of one side alone take no part; none: nothing
    const Runs one[] = {LIST(7), {0, NULL, NULL}, LIST(3)},
               two[] = {{0, NULL, NULL}, LIST(1), LIST(1)};
    ck_assert_double_eq(shift_within_runs(one, two, 3, 0.95).estimate, 2);
    ck_assert_double_nan(shift_within_runs(one, two, 2, 0.95).estimate);
    ck_assert_double_nan(shift_within_runs(x, y, 2, NAN).estimate);
}
END_TEST

enum { STRATA = 3, MOST = 25 };

typedef struct {
    double x_room[STRATA][MOST], y_room[STRATA][MOST];
    Runs x[STRATA], y[STRATA];
} Samples;

static void draw(Samples *s, gsl_rng *r, bool tied) {
    for (int k = 0; k < STRATA; k++) {
        const size_t m = gsl_rng_uniform_int(r, MOST), n = gsl_rng_uniform_int(r, MOST);
        const double scale = tied ? 4 : exp(2 * k);
        for (size_t i = 0; i < m; i++)
            s->x_room[k][i] = 10 * k + scale * gsl_ran_gaussian(r, 1);
        for (size_t i = 0; i < n; i++)
            s->y_room[k][i] = 10 * k + scale * gsl_ran_gaussian(r, 1);
        for (size_t i = 0; tied && i < MOST; i++) {
            s->x_room[k][i] = round(s->x_room[k][i]);
            s->y_room[k][i] = round(s->y_room[k][i]);
        }
        quantile_sort(s->x_room[k], m);
        quantile_sort(s->y_room[k], n);
        s->x[k] = (Runs){m, s->x_room[k], NULL};
        s->y[k] = (Runs){n, s->y_room[k], NULL};
    }
}

static RankStrata moved(const Samples *s, double by) {
    static double room[STRATA][MOST];
    Runs x[STRATA];
    for (int k = 0; k < STRATA; k++) {
        for (size_t i = 0; i < s->x[k].k; i++)
            room[k][i] = s->x[k].value[i] - by;
        x[k] = (Runs){s->x[k].k, room[k], NULL};
    }
    return rank_van_elteren_runs(x, s->y, STRATA);
}

// The shift is where the test's sum passes what it is by chance, its limits are where its p does 5
// %: by the test itself, on samples moved.
START_TEST(shifts_by_the_test) {
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(r, 20311);
    unsigned limited = 0;
    for (int round = 0; round < 400; round++) {
        static Samples s;
        const bool tied = round % 2;
        const double near = tied ? 0.25 : 1e-9;
        draw(&s, r, tied);
        int parts = 0;
        for (int k = 0; k < STRATA; k++)
            parts += s.x[k].k > 0 && s.y[k].k > 0;
        const StatsInterval shift = shift_within_runs(s.x, s.y, STRATA, 0.95);
        ck_assert(isnan(shift.estimate) == (parts == 0));
        if (parts == 0)
            continue;
        ck_assert(moved(&s, shift.estimate - near).ahead > -1e-9);
        ck_assert(moved(&s, shift.estimate + near).ahead < 1e-9);
        const StatsInterval back = shift_within_runs(s.y, s.x, STRATA, 0.95);
        ck_assert_double_eq_tol(back.estimate, -shift.estimate, 1e-9);
        if (tied || parts < 2 || isnan(shift.lower))
            continue;
        limited++;
        ck_assert_double_eq_tol(back.lower, -shift.upper, 1e-9);
        ck_assert(moved(&s, shift.lower - near).two_sided < 0.05);
        ck_assert(moved(&s, shift.lower + near).two_sided > 0.05);
        ck_assert(moved(&s, shift.upper - near).two_sided > 0.05);
        ck_assert(moved(&s, shift.upper + near).two_sided < 0.05);
    }
    ck_assert_uint_gt(limited, 100);
    gsl_rng_free(r);
}
END_TEST

// ---- periods ----

// Two periods alike within strata, one with more of the slow one.
START_TEST(mix_is_no_change) {
    const Runs quick = LIST(10, 20, 30), slow = LIST(100, 200, 300),
               two_quick = LIST(10, 10, 20, 20, 30, 30),
               two_slow = LIST(100, 100, 200, 200, 300, 300);
    const Runs before_all = LIST(10, 10, 20, 20, 30, 30, 100, 200, 300),
               now_all = LIST(10, 20, 30, 100, 100, 200, 200, 300, 300);
    const Runs before_within[] = {two_quick, slow}, now_within[] = {quick, two_slow};
    const ChangeCell cell[] = {
        {.whole = true, .minutes = before_all, .strata = 2, .within = before_within},
        {.whole = true, .minutes = now_all, .strata = 2, .within = now_within}};
    const ChangeStep step = change_between(CHANGE_MEDIAN, &cell[1], &cell[0], 1, 0.95);
    ck_assert_double_eq(step.then, 30); // crude: 30 and 100
    ck_assert_double_eq(step.now, 100);
    ck_assert_int_eq(step.side, 0);
    ck_assert_double_eq(step.p, 1);
    ck_assert_double_eq(step.effect.estimate, 0);
    const ChangeSeries s = {CHANGE_MEDIAN, cell, 2, 4, NULL};
    double level[2];
    change_levels(&s, level); // each stratum's middle is 20 or 200, that of all 18 is 65
    ck_assert_double_eq(level[0], 65);
    ck_assert_double_eq(level[1], 65);
    ck_assert_double_eq_tol(strata_against(&s, &cell[1]).mean_rank, 0.5, 1e-15);
}
END_TEST

enum { PERIODS = 14 };

typedef struct {
    double room[PERIODS][MOST];
    Runs within[PERIODS][STRATA];
    ChangeCell cell[PERIODS];
} World;

// Periods of one stratum of several, the others empty.
static ChangeSeries draw_periods(World *w, gsl_rng *r) {
    memset(w->within, 0, sizeof w->within);
    for (int i = 0; i < PERIODS; i++) {
        const size_t n = 1 + gsl_rng_uniform_int(r, MOST);
        for (size_t j = 0; j < n; j++)
            w->room[i][j] = floor(60 * exp(gsl_ran_gaussian(r, 1)));
        quantile_sort(w->room[i], n);
        w->within[i][1] = (Runs){n, w->room[i], NULL};
        w->cell[i] = (ChangeCell){.total = (double)n,
                                  .minutes = {n, w->room[i], NULL},
                                  .strata = STRATA,
                                  .within = w->within[i],
                                  .whole = i != 3};
    }
    return (ChangeSeries){CHANGE_MEDIAN, w->cell, PERIODS, 12, NULL};
}

static void same(double a, double b) {
    ck_assert(a == b || (isnan(a) && isnan(b)));
}

START_TEST(one_stratum_is_as_none) {
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(r, 20312);
    for (int round = 0; round < 40; round++) {
        static World w;
        const ChangeSeries s = draw_periods(&w, r);
        ChangeCell plain[PERIODS];
        memcpy(plain, w.cell, sizeof plain);
        for (int i = 0; i < PERIODS; i++)
            plain[i].within = NULL;
        const ChangeSeries of_all = {CHANGE_MEDIAN, plain, PERIODS, 12, NULL};
        const ChangeModel m = change_model(&s);
        size_t at, plain_at;
        int side, plain_side;
        same(change_point(&s, &at), change_point(&of_all, &plain_at));
        ck_assert(at == plain_at);
        same(change_shift(&s, NULL, &side), change_shift(&of_all, NULL, &plain_side));
        ck_assert(side == plain_side);
        same(change_trend(&s, 0.9).ratio.upper, change_trend(&of_all, 0.9).ratio.upper);
        same(change_trend(&s, 0.9).p, change_trend(&of_all, 0.9).p);
        same(change_spread(&s, &m), change_spread(&of_all, &m));
        for (int i = 0; i < PERIODS; i++)
            same(change_tail(&s, &m, &w.cell[i]), change_tail(&of_all, &m, &plain[i]));
        const ChangeStep a = change_between(CHANGE_MEDIAN, &w.cell[9], &w.cell[8], 1, 0.95);
        const ChangeStep b = change_between(CHANGE_MEDIAN, &plain[9], &plain[8], 1, 0.95);
        same(a.p, b.p);
        same(a.effect.lower, b.effect.lower);
        // and that is Mann and Whitney's
        same(a.p, rank_mann_whitney(w.room[9], w.cell[9].minutes.k, w.room[8], w.cell[8].minutes.k,
                                    RANK_AUTO)
                      .two_sided);
        same(a.effect.estimate, shift_hodges_lehmann(w.room[9], w.cell[9].minutes.k, w.room[8],
                                                     w.cell[8].minutes.k, 0.95)
                                    .estimate);
    }
    gsl_rng_free(r);
}
END_TEST

// Two strata, all of now above all of then: z = T/sd is beyond where a p can be told from 0, and a
// spread of 30 brings it back. By hand: U - m n/2 = n^2/2, weight 1/(2n + 1), variance of U
// (without ties) n^2 (2n + 1)/12, so z = sqrt(2) (n^2/2) / sqrt(n^2 (2n + 1)/12) = sqrt(6 n^2/(2n +
// 1)).
START_TEST(far_tails_are_lessened) {
    enum { N = 2000 };
    static double low[N], high[N];
    for (int i = 0; i < N; i++) {
        low[i] = i;
        high[i] = N + 10 + i;
    }
    const Runs then_within[] = {{N, low, NULL}, {N, low, NULL}},
               now_within[] = {{N, high, NULL}, {N, high, NULL}};
    const ChangeCell
        then = {.whole = true, .minutes = then_within[0], .strata = 2, .within = then_within},
        now = {.whole = true, .minutes = now_within[0], .strata = 2, .within = now_within};
    const double z = sqrt(6.0 * N * N / (2 * N + 1));
    ck_assert_double_eq(change_between(CHANGE_MEDIAN, &now, &then, 1, 0.95).p, 0);
    const ChangeStep step = change_between_spread(CHANGE_MEDIAN, &now, &then, 30, 0.95);
    ck_assert_double_eq_tol(step.p, erfc(z / 30 / sqrt(2)), 1e-12);
    ck_assert_double_eq(step.effect.estimate, N + 10);
    ck_assert(step.p < 0.05 && step.effect.lower > 0); // p 0.0098: z 77.45
    const ChangeStep wider = change_between_spread(CHANGE_MEDIAN, &now, &then, 42, 0.95);
    ck_assert(wider.p > 0.05 && !(wider.effect.lower > 0));
    ck_assert_double_eq(wider.effect.estimate, N + 10);
    // a share, whose exact p can be no less than the least number: its deviate is at least 37.5
    const ChangeCell few = {.whole = true, .events = 1000, .total = 50000},
                     many = {.whole = true, .events = 49000, .total = 50000};
    const ChangeStep share = change_between_spread(CHANGE_SHARE, &many, &few, 30, 0.95);
    ck_assert(share.p > 0.1);
    ck_assert_double_eq_tol(share.effect.estimate, 0.96, 1e-12);
    ck_assert_double_nan(share.effect.lower);
}
END_TEST

int main(void) {
    gsl_set_error_handler_off();
    Suite *suite = suite_create("stats: strata");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, shifts_by_hand);
    tcase_add_test(tests, shifts_by_the_test);
    tcase_add_test(tests, mix_is_no_change);
    tcase_add_test(tests, one_stratum_is_as_none);
    tcase_add_test(tests, far_tails_are_lessened);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
