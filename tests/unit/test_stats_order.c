// SPDX-License-Identifier: GPL-3.0-or-later
// Sorting and counting of whole numbers against qsort and against the curve of single times.
#include "stats/incidence.h"
#include "stats/order.h"
#include "stats/runs.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 2000, ENDS = 3 };

static int by_value(const void *a, const void *b) {
    const int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

// What puts numbers farther apart than 32 bits.
static const int64_t FAR = (int64_t)1 << 31;

// Numbers below most, each added to its place times step.
static void fill(int64_t *values, size_t n, long most, long step, unsigned seed) {
    srand(seed);
    for (size_t i = 0; i < n; i++)
        values[i] = (long)i * step + rand() % most;
}

START_TEST(sorted_as_by_qsort) {
    static const long most[] = {1, 7, 5000, RAND_MAX}, step[] = {0, 3, -3};
    for (unsigned k = 0; k < 24; k++) {
        int64_t values[MOST], own[MOST], far[MOST];
        uint32_t whole[MOST];
        const size_t n = k < 12 ? MOST : k - 12;
        fill(values, n, most[k % 4], step[k % 3], k);
        memcpy(own, values, n * sizeof *own);
        for (size_t i = 0; i < n; i++) {
            whole[i] = (uint32_t)(values[i] + 3 * MOST);
            far[i] = values[i] * FAR;
        }
        qsort(values, n, sizeof *values, by_value);
        order_settle(own, n);
        order_settle(far, n);
        ck_assert(order_sort_whole(whole, n));
        for (size_t i = 0; i < n; i++) {
            ck_assert_int_eq(own[i], values[i]);
            ck_assert_int_eq(far[i], values[i] * FAR);
            ck_assert_uint_eq(whole[i], (uint32_t)(values[i] + 3 * MOST));
        }
    }
}
END_TEST

START_TEST(runs_hold_every_number) {
    const uint32_t sorted[] = {0, 0, 3, 4, 4, 4, 9};
    double room[14];
    const Runs r = runs_of_whole(sorted, 7, room);
    ck_assert_uint_eq(r.k, 4);
    ck_assert_double_eq(runs_size(r), 7);
    for (size_t i = 0; i < 7; i++)
        ck_assert_double_eq(runs_at(r, (double)i + 1), sorted[i]);
    ck_assert_uint_eq(runs_of_whole(sorted, 0, room).k, 0);
}
END_TEST

START_TEST(counts_give_the_curve_of_single_times) {
    double times[MOST], at[50], n[50 * (ENDS + 1)] = {0};
    unsigned end[MOST];
    IncidenceStep one[MOST], all[50];
    srand(1);
    for (size_t i = 0; i < 50; i++)
        at[i] = (double)i;
    for (size_t i = 0; i < MOST; i++) {
        times[i] = i < 50 ? (double)i : rand() % 50; // no time is missing
        end[i] = (unsigned)rand() % (ENDS + 1);
        n[(size_t)times[i] * (ENDS + 1) + end[i]]++;
    }
    for (unsigned of = 1; of <= ENDS; of++) {
        size_t count = 0;
        ck_assert(incidence_curve(times, end, MOST, of, one, &count));
        ck_assert_uint_eq(count, 50);
        incidence_of_counts(&(IncidenceCounts){50, ENDS, at, n}, of, all);
        for (size_t i = 0; i < 50; i++) {
            ck_assert_double_eq(one[i].at_risk, all[i].at_risk);
            ck_assert_double_eq(one[i].incidence, all[i].incidence);
            ck_assert_double_eq(one[i].survival, all[i].survival);
        }
    }
}
END_TEST

int main(void) {
    Suite *suite = suite_create("order");
    TCase *tests = tcase_create("order");
    tcase_add_test(tests, sorted_as_by_qsort);
    tcase_add_test(tests, runs_hold_every_number);
    tcase_add_test(tests, counts_give_the_curve_of_single_times);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed > 0;
}
