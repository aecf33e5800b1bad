// SPDX-License-Identifier: GPL-3.0-or-later
// Waits at given places of their order: as sorting all of them has it.
#include "replay/waits.h"

#include <check.h>
#include <gsl/gsl_rng.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 20000, RANKS = 4 };

static int by_minutes(const void *a, const void *b) {
    const int32_t x = *(const int32_t *)a, y = *(const int32_t *)b;
    return x < y ? -1 : x > y;
}

static int by_rank(const void *a, const void *b) {
    const size_t x = *(const size_t *)a, y = *(const size_t *)b;
    return x < y ? -1 : x > y;
}

// Some stretches of a list and some single waits; every place may come twice.
static size_t draw(gsl_rng *rng, Waits *w, const WaitsList *list, unsigned long longest,
                   int32_t *all) {
    size_t n = 0;
    waits_reset(w, list);
    for (unsigned k = 0; k < 10 && list->n > 0; k++) {
        const size_t from = gsl_rng_uniform_int(rng, list->n),
                     to = from + gsl_rng_uniform_int(rng, list->n - from + 1) / 5;
        waits_add_stretch(w, from, to);
        memcpy(all + n, list->wait + from, (to - from) * sizeof *all);
        n += to - from;
    }
    for (unsigned long k = gsl_rng_uniform_int(rng, 300); k > 0 || n == 0; k -= k > 0) {
        all[n] = (int32_t)gsl_rng_uniform_int(rng, longest);
        waits_add(w, all[n++]);
    }
    ck_assert_uint_eq(w->n, n);
    return n;
}

static void compare(gsl_rng *rng, size_t length, unsigned long longest) {
    int32_t *all = malloc(MOST * 3 * sizeof *all), got[RANKS];
    WaitsList list = waits_new_list(length);
    Waits w = waits_new(MOST * 3, 10);
    for (size_t i = 0; i < length; i++)
        all[i] = (int32_t)gsl_rng_uniform_int(rng, longest);
    waits_fill_list(&list, all, length);
    for (unsigned run = 0; run < 20; run++) {
        const size_t n = draw(rng, &w, &list, longest * (run % 3 + 1) / 2 + 1, all);
        size_t rank[RANKS];
        for (int r = 0; r < RANKS; r++)
            rank[r] = gsl_rng_uniform_int(rng, n);
        qsort(rank, RANKS, sizeof *rank, by_rank);
        waits_pick(&w, rank, RANKS, got);
        qsort(all, n, sizeof *all, by_minutes);
        for (int r = 0; r < RANKS; r++)
            ck_assert_int_eq(got[r], all[rank[r]]);
    }
    waits_free(&w);
    waits_free_list(&list);
    free(all);
}

START_TEST(as_sorted) {
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    static const size_t length[] = {0, 1, 7, 8, 9, 1000, MOST};
    static const unsigned long longest[] = {1, 40, 1500, 32767, 32769, 200000};
    for (size_t i = 0; i < sizeof length / sizeof *length; i++)
        for (size_t k = 0; k < sizeof longest / sizeof *longest; k++)
            compare(rng, length[i], longest[k]);
    gsl_rng_free(rng);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("replay: waits");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, as_sorted);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
