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
    ck_assert_uint_eq(findings->findings->len, 5);
    const Finding *f = &g_array_index(findings->findings, Finding, 0);
    ck_assert_str_eq(f->code, "month-thin");
    ck_assert_str_eq(f->message, "A, 2031-02: 1 row received, usual are 3 a month");
    received_free(r);
    finding_list_free(findings);
    network_free(network);
    transfers_free(t);
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
    tcase_add_test(tests, nothing);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
