// SPDX-License-Identifier: GPL-3.0-or-later
// Which counts of the account are hidden: accounts in which that can be found by hand, and all
// small ones, in which no hidden count may follow from the sum.
#include "disclosure/accounted.h"

#include <check.h>
#include <math.h>
#include <string.h>

enum { LEAST = 5 };

// Read, used, put aside, repeated, merged, left out: s shown, x hidden. told: a count that the
// estimates show.
static Accounted hidden_of(const uint64_t n[ACCOUNTED_COUNTS], double told, const Hiding *hiding) {
    const Account account = {n[0], n[1], n[2], n[3], n[4], n[5]};
    Estimates e = {.rows = g_array_new(FALSE, FALSE, sizeof(Estimate))};
    const Estimate rows[] = {{.events = told, .total = NAN},
                             {.events = 77, .total = NAN, .unit = 1},
                             {.events = 78, .total = NAN, .suppressed = true}};
    g_array_append_vals(e.rows, rows, G_N_ELEMENTS(rows));
    const Accounted a = accounted_of(&account, &e, hiding);
    g_array_unref(e.rows);
    for (int k = 0; k < ACCOUNTED_COUNTS; k++)
        ck_assert_uint_eq(a.n[k], n[k]);
    return a;
}

static void expect(const uint64_t n[ACCOUNTED_COUNTS], double told, const char *hidden) {
    const Accounted a = hidden_of(n, told, &(Hiding){.least = LEAST});
    char got[ACCOUNTED_COUNTS + 1] = "";
    for (int k = 0; k < ACCOUNTED_COUNTS; k++)
        got[k] = a.hidden[k] ? 'x' : 's';
    ck_assert_str_eq(got, hidden);
    ck_assert_int_eq(accounted_hides(&a), strchr(hidden, 'x') != NULL);
}

START_TEST(nothing_small) {
    expect((uint64_t[]){125, 100, 20, 0, 5, 0}, 100, "ssssss");
    expect((uint64_t[]){0, 0, 0, 0, 0, 0}, 50, "ssssss");
}
END_TEST

START_TEST(next_smallest_goes_too) {
    expect((uint64_t[]){150, 100, 3, 0, 40, 7}, 100, "ssxssx");
    expect((uint64_t[]){143, 100, 40, 0, 0, 3}, 100, "ssxssx");
}
END_TEST

START_TEST(read_goes_where_nothing_else_can) {
    expect((uint64_t[]){103, 100, 3, 0, 0, 0}, 100, "xsxsss");
    expect((uint64_t[]){104, 100, 2, 2, 0, 0}, 100, "xsxxss");
}
END_TEST

START_TEST(two_that_are_enough_together) {
    expect((uint64_t[]){106, 100, 3, 3, 0, 0}, 100, "ssxxss");
}
END_TEST

START_TEST(used_is_shown_where_the_estimates_tell_it) {
    expect((uint64_t[]){120, 100, 20, 0, 0, 0}, 99, "xxssss");
    expect((uint64_t[]){97, 77, 20, 0, 0, 0}, 99, "xxssss"); // a unit's count is not the network's
    expect((uint64_t[]){98, 78, 20, 0, 0, 0}, 99, "xxssss"); // a hidden count tells nothing
    expect((uint64_t[]){23, 3, 20, 0, 0, 0}, 3, "sxxsss");
}
END_TEST

START_TEST(without_a_release) {
    const Accounted a = hidden_of((uint64_t[]){103, 100, 3, 0, 0, 0}, 0, NULL);
    ck_assert(!accounted_hides(&a));
}
END_TEST

// What the sum tells: nothing if read is hidden, else that of the hidden parts.
static void check_unsolvable(const uint64_t n[ACCOUNTED_COUNTS]) {
    const Accounted a = hidden_of(n, (double)n[ACCOUNTED_USED], &(Hiding){.least = LEAST});
    unsigned parts = 0;
    uint64_t sum = 0;
    for (int k = 0; k < ACCOUNTED_COUNTS; k++) {
        ck_assert(a.hidden[k] || n[k] == 0 || n[k] >= LEAST);
        if (k != ACCOUNTED_READ && a.hidden[k]) {
            parts++;
            sum += n[k];
        }
    }
    ck_assert(a.hidden[ACCOUNTED_READ] || parts == 0 || (parts > 1 && sum >= LEAST));
}

START_TEST(no_small_count_follows_from_the_sum) {
    enum { MOST = 7 };
    uint64_t n[ACCOUNTED_COUNTS];
    for (unsigned code = 0; code < MOST * MOST * MOST * MOST * MOST; code++) {
        unsigned rest = code;
        n[ACCOUNTED_READ] = 0;
        for (int k = ACCOUNTED_USED; k < ACCOUNTED_COUNTS; k++) {
            n[k] = rest % MOST;
            rest /= MOST;
            n[ACCOUNTED_READ] += n[k];
        }
        check_unsolvable(n);
    }
}
END_TEST

int main(void) {
    Suite *s = suite_create("disclosure_accounted");
    TCase *c = tcase_create("accounted");
    tcase_add_test(c, nothing_small);
    tcase_add_test(c, next_smallest_goes_too);
    tcase_add_test(c, read_goes_where_nothing_else_can);
    tcase_add_test(c, two_that_are_enough_together);
    tcase_add_test(c, used_is_shown_where_the_estimates_tell_it);
    tcase_add_test(c, without_a_release);
    tcase_add_test(c, no_small_count_follows_from_the_sum);
    suite_add_tcase(s, c);
    SRunner *r = srunner_create(s);
    srunner_run_all(r, CK_ENV);
    const int failed = srunner_ntests_failed(r);
    srunner_free(r);
    return failed > 0;
}
