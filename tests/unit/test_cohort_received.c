// SPDX-License-Identifier: GPL-3.0-or-later
// Who sent what, by an example worked out by hand.
#include "cohort.h"
#include "cohort/received.h"

START_TEST(grid) {
    const Hand rows[] = {
        {.from = "A", .date = "2031-01-05"},
        {.from = "A", .date = "2031-01-06"},
        {.from = "A", .date = "2031-01-07"},
        {.from = "A", .date = "2031-02-01"}, // under half of 3
        {.from = "A", .date = "2031-04-01"},
        {.from = "A", .date = "2031-04-02"}, // March has none
        {.from = "A", .date = "2031-04-03"},
        {.keeper = "B", .from = "A", .to = "B", .date = "2031-04-30"},
        {.from = "A", .date = "2013-01-05"}, // years away: a wrong date
    };
    Transfers *t = hand_transfers(rows, 9);
    Network *network = network_load(NULL, NULL);
    Findings *findings = finding_list_new();
    Received *r = received_count(t, network);
    ck_assert_int_eq(r->first, 2031 * 12);
    ck_assert_uint_eq(r->months, 4);
    ck_assert_uint_eq(r->units->len, 2);
    const ReceivedUnit *a = &g_array_index(r->units, ReceivedUnit, 0), *b = a + 1;
    const uint32_t of_a[] = {3, 1, 0, 3}, of_b[] = {0, 0, 0, 1};
    ck_assert_mem_eq(a->rows, of_a, sizeof of_a);
    ck_assert_mem_eq(b->rows, of_b, sizeof of_b);
    ck_assert(a->usual == 3 && b->usual == 1);
    received_say(r, t->units, findings);
    ck_assert_uint_eq(findings->findings->len, 4);
    const Finding *f = &g_array_index(findings->findings, Finding, 0);
    ck_assert_str_eq(f->code, "month-thin");
    ck_assert_str_eq(f->message, "A, 2031-02: 1 row received, where 3 a month is usual");
    ck_assert_str_eq(f[1].message,
                     "A: 0 rows received in 1 of 4 months, as chance has it where 3 a "
                     "month is usual");
    ck_assert_str_eq(f[2].message,
                     "B: 0 rows received in 3 of 4 months, as chance has it where 1 a "
                     "month is usual");
    const Finding *far = &g_array_index(findings->findings, Finding, 3);
    ck_assert_str_eq(far->code, "date-far-off");
    ck_assert_uint_eq(far->line, t->line[8]);
    received_free(r);
    finding_list_free(findings);
    network_free(network);
    transfers_free(t);
}
END_TEST

// Months of the grid of `a` rows in January and in February, one in March, and `b` rows in the
// month given; how many of those are far off.
static guint months(unsigned a, unsigned b, const char *date, guint *far) {
    Hand rows[128];
    size_t n = 0;
    for (unsigned i = 0; i < a; i++) {
        rows[n++] = (Hand){.from = "A", .date = "2031-01-05"};
        rows[n++] = (Hand){.from = "A", .date = "2031-02-05"};
    }
    rows[n++] = (Hand){.from = "A", .date = "2031-03-05"};
    for (unsigned i = 0; i < b; i++)
        rows[n++] = (Hand){.from = "B", .date = date};
    Transfers *t = hand_transfers(rows, n);
    Network *network = network_load(NULL, NULL);
    Received *r = received_count(t, network);
    const guint wide = r->months;
    *far = r->far->len;
    received_free(r);
    network_free(network);
    transfers_free(t);
    return wide;
}

START_TEST(lone_rows) {
    guint far;
    ck_assert_uint_eq(months(7, 1, "2032-01-05", &far), 3); // 15 rows in 3 months: 1 is under 5/4
    ck_assert_uint_eq(far, 1);
    ck_assert_uint_eq(months(7, 2, "2032-01-05", &far), 13); // 2 is not
    ck_assert_uint_eq(far, 0);
    ck_assert_uint_eq(months(12, 2, "2030-01-05", &far), 3); // but under 25/12
    ck_assert_uint_eq(far, 2);
    ck_assert_uint_eq(months(60, 3, "2032-01-05", &far), 13); // three are not lone
    ck_assert_uint_eq(months(7, 1, "2031-05-05", &far), 5);   // one month without any is no gap
    ck_assert_uint_eq(months(7, 1, "2031-06-05", &far), 3);
}
END_TEST

// Two units of two rows a month, and a single row after all logs have ended.
START_TEST(last_month) {
    const Hand rows[] = {
        {.from = "A", .date = "2031-01-05"}, {.from = "A", .date = "2031-01-06"},
        {.from = "A", .date = "2031-02-07"}, {.from = "A", .date = "2031-02-08"},
        {.from = "A", .date = "2031-02-09"}, {.from = "A", .date = "2031-01-09"},
        {.from = "B", .date = "2031-01-05"}, {.from = "B", .date = "2031-02-06"},
        {.from = "B", .date = "2031-02-07"}, {.from = "B", .date = "2031-01-08"},
        {.from = "A", .date = "2031-03-01"},
    };
    Transfers *t = hand_transfers(rows, G_N_ELEMENTS(rows));
    Network *network = network_load(NULL, NULL);
    Findings *findings = finding_list_new();
    Received *r = received_count(t, network);
    received_say(r, t->units, findings);
    ck_assert_uint_eq(findings->findings->len, 1);
    const Finding *f = &g_array_index(findings->findings, Finding, 0);
    ck_assert_str_eq(f->code, "month-thin");
    ck_assert_str_eq(f->message,
                     "all units together, 2031-03: 1 row received, where 5 a month is usual");
    received_free(r);
    finding_list_free(findings);
    network_free(network);
    transfers_free(t);
}
END_TEST

// Findings of a log of `rows` in each of 12 months but the `empty` ones from the third on.
static guint gaps(unsigned rows, unsigned empty, const char *code) {
    Hand log[128];
    size_t n = 0;
    char dates[12][16];
    for (unsigned m = 0; m < 12; m++) {
        g_snprintf(dates[m], sizeof dates[m], "2031-%02u-05", m + 1);
        for (unsigned i = 0; i < rows && (m < 2 || m >= 2 + empty); i++)
            log[n++] = (Hand){.from = "A", .date = dates[m]};
    }
    Transfers *t = hand_transfers(log, n);
    Network *network = network_load(NULL, NULL);
    Findings *findings = finding_list_new();
    Received *r = received_count(t, network);
    received_say(r, t->units, findings);
    guint of_code = 0;
    for (guint i = 0; i < findings->findings->len; i++)
        of_code += !strcmp(g_array_index(findings->findings, Finding, i).code, code);
    received_free(r);
    finding_list_free(findings);
    network_free(network);
    transfers_free(t);
    return of_code;
}

// Some of 12 Poisson months of mean k running m are empty with a chance of at most 12 exp(-k m):
// under 1 in 100 where k m > ln 1200 = 7.09.
START_TEST(chance) {
    ck_assert_uint_eq(gaps(8, 1, "month-missing"), 1);
    ck_assert_uint_eq(gaps(8, 1, "month-quiet"), 0);
    ck_assert_uint_eq(gaps(7, 1, "month-missing"), 0);
    ck_assert_uint_eq(gaps(7, 1, "month-quiet"), 1);
    ck_assert_uint_eq(gaps(4, 2, "month-missing"), 2);
    ck_assert_uint_eq(gaps(1, 7, "month-missing"), 0);
    ck_assert_uint_eq(gaps(1, 7, "month-quiet"), 1);
    ck_assert_uint_eq(gaps(1, 8, "month-missing"), 8);
}
END_TEST

START_TEST(nothing) {
    Transfers *t = hand_transfers(NULL, 0);
    Network *network = network_load(NULL, NULL);
    Received *r = received_count(t, network);
    ck_assert_uint_eq(r->units->len, 0);
    received_free(r);
    network_free(network);
    transfers_free(t);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("cohort: who sent what");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, grid);
    tcase_add_test(tests, lone_rows);
    tcase_add_test(tests, last_month);
    tcase_add_test(tests, chance);
    tcase_add_test(tests, nothing);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
