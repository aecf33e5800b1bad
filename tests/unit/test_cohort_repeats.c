// SPDX-License-Identifier: GPL-3.0-or-later
// Repeats, by examples worked out by hand from their definition.
#include "cohort.h"
#include "cohort/repeats.h"

enum { MOST = 8 };

// Which rows stay, as a string of 0 and 1.
static const char *kept(const Hand *rows, size_t n, const uint32_t *rank, guint *reused) {
    static char text[MOST + 1];
    uint8_t keep[MOST];
    Transfers *t = hand_transfers(rows, n);
    Network *network = network_load(NULL, NULL);
    Findings *findings = finding_list_new();
    const uint64_t repeated = repeats_find(t, network, rank, keep, findings);
    ck_assert_uint_eq(repeated, findings->put_aside->len);
    for (size_t i = 0; i < n; i++)
        text[i] = keep[i] ? '1' : '0';
    text[n] = 0;
    guint others = 0; // each row is told: repeated, or its id used again
    for (guint i = 0; i < findings->findings->len; i++)
        others += !strcmp(g_array_index(findings->findings, Finding, i).code, "id-reused");
    ck_assert_uint_eq(repeated + others, findings->findings->len);
    if (reused)
        *reused = others;
    finding_list_free(findings);
    network_free(network);
    transfers_free(t);
    return text;
}

static const uint32_t two_files[] = {0, 1}, second_came_first[] = {1, 0};

START_TEST(the_later_word_stands) {
    const Hand rows[] = {
        {.id = "7", .from = "A", .to = "B", .requested = "2031-01-01T10:00"},
        {.id = "7", .from = "A", .to = "B", .requested = "2031-01-02T10:00"}, // 24 h later
        {.id = "8", .from = "A", .to = "B", .requested = "2031-01-01T10:00"},
        {.id = "8", .from = "A", .to = "B", .requested = "2031-01-02T10:01"}, // one minute more
    };
    guint reused;
    ck_assert_str_eq(kept(rows, 4, two_files, &reused), "0111");
    ck_assert_uint_eq(reused, 1);
}
END_TEST

START_TEST(the_later_file_wins) {
    const Hand rows[] = {
        {.id = "7", .from = "A", .requested = "2031-01-01T10:00", .file = 1},
        {.id = "7", .from = "A", .requested = "2031-01-01T10:00", .file = 0},
    };
    ck_assert_str_eq(kept(rows, 2, two_files, NULL), "10");
    ck_assert_str_eq(kept(rows, 2, second_came_first, NULL), "01");
}
END_TEST

START_TEST(keepers_number_for_themselves) {
    const Hand rows[] = {
        {.id = "7", .from = "A", .to = "B", .requested = "2031-01-01T10:00"},
        {.id = "7", .keeper = "B", .from = "A", .to = "B", .requested = "2031-01-01T10:00"},
        {.id = "7", .keeper = "A", .from = "A", .to = "B", .requested = "2031-01-01T10:00"},
    };
    ck_assert_str_eq(kept(rows, 3, two_files, NULL), "011");
}
END_TEST

START_TEST(ends_and_days) {
    const Hand rows[] = {
        {.id = "1", .from = "A", .to = "B", .date = "2031-01-01"},
        {.id = "1", .from = "A", .date = "2031-01-01"}, // unknown agrees with any
        {.id = "2", .from = "A", .to = "B", .date = "2031-01-01"},
        {.id = "2", .from = "A", .to = "C", .date = "2031-01-01"}, // another receiver
        {.id = "3", .from = "A", .to = "B", .date = "2031-01-01"},
        {.id = "3", .from = "A", .to = "B", .requested = "2031-01-01T23:59"},
        {.from = "A", .to = "B", .date = "2031-01-01"}, // without an id nothing repeats
        {.from = "A", .to = "B", .date = "2031-01-01"},
    };
    guint reused;
    ck_assert_str_eq(kept(rows, 8, two_files, &reused), "01110111");
    ck_assert_uint_eq(reused, 1);
}
END_TEST

START_TEST(one_id_for_all) { // one id on every row must not make the time grow as the square
    Transfers *t = transfers_new();
    for (int i = 0; i < 200000; i++) {
        const Hand row = {.id = "0", .from = "A", .requested = "2031-01-01T10:00"};
        hand_add(t, &row, (uint32_t)i + 2);
    }
    ck_assert(transfers_seal(t));
    int32_t *requested = transfers_own(t, FIELD_requested_at);
    for (int i = 0; i < 200000; i++)
        requested[i] = i * 1500; // more than a day apart
    ck_assert(transfers_seal(t));
    uint8_t *keep = g_malloc(t->n);
    Network *network = network_load(NULL, NULL);
    Findings *findings = finding_list_new();
    ck_assert_uint_eq(repeats_find(t, network, two_files, keep, findings), 0);
    ck_assert_uint_eq(findings->findings->len, 199999);
    finding_list_free(findings);
    network_free(network);
    g_free(keep);
    transfers_free(t);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("cohort: repeats");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, the_later_word_stands);
    tcase_add_test(tests, the_later_file_wins);
    tcase_add_test(tests, keepers_number_for_themselves);
    tcase_add_test(tests, ends_and_days);
    tcase_add_test(tests, one_id_for_all);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
