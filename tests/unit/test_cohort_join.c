// SPDX-License-Identifier: GPL-3.0-or-later
// Both ends' logs joined, by examples worked out by hand from the definition (src/cohort/join.h).
#include "cohort.h"
#include "cohort/join.h"

static const char *const names[] = {"a.csv", "b.csv"};

typedef struct {
    Transfers *t;
    Network *network;
    Findings *findings;
    Join *join;
} Run;

static Run run(const Hand *rows, size_t n, bool shared_ids) {
    Run r = {hand_transfers(rows, n), network_load(NULL, NULL), finding_list_new(), join_new()};
    r.network->shared_ids = shared_ids;
    uint8_t *keep = g_malloc(n + 1);
    join_ends(r.t, r.network, names, keep, r.join, r.findings);
    transfers_keep(r.t, keep);
    g_free(keep);
    return r;
}

static void end(Run *r) {
    join_free(r->join);
    finding_list_free(r->findings);
    network_free(r->network);
    transfers_free(r->t);
}

static guint count(const Run *r, const char *code) {
    guint n = 0;
    for (guint i = 0; i < r->findings->findings->len; i++)
        n += strcmp(g_array_index(r->findings->findings, Finding, i).code, code) == 0;
    return n;
}

// How many pairs are joined, how many doubtful, how many rows fewer if those were joined too.
static void expect(const Hand *rows, size_t n, bool shared_ids, guint joined, guint doubtful,
                   guint would_join) {
    Run r = run(rows, n, shared_ids);
    ck_assert_uint_eq(r.join->joined, joined);
    ck_assert_uint_eq(r.join->doubtful, doubtful);
    ck_assert_uint_eq(r.join->would_join, would_join);
    ck_assert_uint_eq(r.t->n, n - joined);
    ck_assert_uint_eq(count(&r, "joined"), joined);
    end(&r);
}

#define SENT .from = "A", .to = "B"
#define RECEIVED .keeper = "B", .from = "A", .to = "B", .file = 1

START_TEST(window) { // 120 minutes, both ends of it included
    Hand rows[] = {{SENT, .departed = "2031-01-01T10:00"},
                   {RECEIVED, .departed = "2031-01-01T12:00"}};
    expect(rows, 2, false, 1, 0, 0);
    rows[1].departed = "2031-01-01T12:01";
    expect(rows, 2, false, 0, 0, 0);
    rows[0].arrived = "2031-01-01T13:30"; // departure or arrival
    rows[1].arrived = "2031-01-01T13:00";
    expect(rows, 2, false, 1, 0, 0);
    rows[0].arrived = "2031-01-01T18:00"; // then the request does not matter
    rows[0].requested = rows[1].requested = "2031-01-01T08:00";
    expect(rows, 2, false, 0, 0, 0);
    rows[0].departed = rows[1].arrived = NULL; // neither can be compared: now it does
    expect(rows, 2, false, 1, 0, 0);
}
END_TEST

START_TEST(band_and_condition) {
    Hand rows[] = {
        {SENT, .departed = "2031-01-01T10:00", .band = "40-59"},
        {RECEIVED, .departed = "2031-01-01T10:05", .band = "40-59", .condition = "sepsis"}};
    expect(rows, 2, false, 1, 0, 0); // unknown agrees with any
    rows[0].condition = "stroke";
    expect(rows, 2, false, 0, 0, 0);
    rows[0].condition = NULL;
    rows[0].band = "60-74";
    expect(rows, 2, false, 0, 0, 0);
}
END_TEST

START_TEST(who_may_be_joined) {
    Hand rows[] = {{SENT, .departed = "2031-01-01T10:00"},
                   {RECEIVED, .departed = "2031-01-01T10:00"}};
    rows[1].to = "C"; // B keeps a log of what A sent to C: no end of it
    expect(rows, 2, false, 0, 0, 0);
    rows[1].keeper = "C"; // another receiver
    expect(rows, 2, false, 0, 0, 0);
    rows[0].to = NULL;
    expect(rows, 2, false, 0, 0, 0);
    rows[0].to = "C";
    rows[0].keeper = "A"; // says so itself
    expect(rows, 2, false, 1, 0, 0);
}
END_TEST

START_TEST(best_first) {
    const Hand rows[] = {
        {SENT, .departed = "2031-01-01T10:00"},     {SENT, .departed = "2031-01-01T11:00"},
        {RECEIVED, .departed = "2031-01-01T11:02"}, {RECEIVED, .departed = "2031-01-01T10:31"},
        {RECEIVED, .departed = "2031-01-01T10:20"},
    };
    Run r = run(rows, 5, false); // 11:00 with 11:02; then 10:00 with 10:20; 10:31 stays alone
    ck_assert_uint_eq(r.join->joined, 2);
    ck_assert_uint_eq(r.t->n, 3);
    ck_assert_uint_eq(r.t->other_line[0], 6);
    ck_assert_uint_eq(r.t->other_line[1], 4);
    ck_assert_uint_eq(r.t->other_file[1], 1);
    ck_assert_uint_eq(r.t->other_line[2], 0);
    ck_assert_uint_eq(r.t->line[2], 5);
    end(&r);
}
END_TEST

START_TEST(known_agreement_is_better) {
    const Hand rows[] = {
        {SENT, .departed = "2031-01-01T10:00", .band = "40-59"},
        {RECEIVED, .departed = "2031-01-01T10:00"},
        {RECEIVED, .departed = "2031-01-01T10:50", .band = "40-59"},
    };
    Run r = run(rows, 3, false);
    ck_assert_uint_eq(r.t->other_line[0], 4);
    end(&r);
}
END_TEST

START_TEST(second_partner_as_good) {
    Hand rows[] = {
        {SENT, .departed = "2031-01-01T10:00"},
        {RECEIVED, .departed = "2031-01-01T10:10"},
        {RECEIVED, .departed = "2031-01-01T09:50"},
        {SENT, .departed = "2031-01-01T12:00"}, // fits 10:10 too, but that one is in doubt
    };
    expect(rows, 3, false, 0, 2, 1);
    expect(rows, 4, false, 0, 3, 2);
    rows[1].arrived = "2031-01-01T11:00"; // not as good any more: the arrival agrees too
    rows[0].arrived = "2031-01-01T11:01";
    expect(rows, 4, false, 1, 0, 0);
    const Hand twins[] = {{SENT, .departed = "2031-01-01T10:00"},
                          {SENT, .departed = "2031-01-01T10:00"},
                          {RECEIVED, .departed = "2031-01-01T10:00"},
                          {RECEIVED, .departed = "2031-01-01T10:00"}};
    expect(twins, 4, false, 0, 4, 2);
    Run r = run(twins, 4, false);
    ck_assert_uint_eq(count(&r, "join-doubtful"), 4);
    end(&r);
}
END_TEST

START_TEST(only_ends) { // no time can be compared
    Hand rows[] = {{SENT, .date = "2031-01-01"}, {RECEIVED, .departed = "2031-01-01T10:00"}};
    expect(rows, 2, false, 0, 1, 1);
    Run r = run(rows, 2, false);
    ck_assert_uint_eq(count(&r, "join-only-ends"), 2);
    end(&r);
    rows[0].date = "2031-01-02";
    expect(rows, 2, false, 0, 0, 0);
}
END_TEST

START_TEST(pseudonyms) {
    Hand rows[] = {
        {SENT, .id = "7", .departed = "2031-01-01T10:00", .band = "40-59"},
        {RECEIVED, .id = "7", .departed = "2031-01-01T10:30", .band = "60-74"},
        {RECEIVED, .id = "8", .departed = "2031-01-01T10:00", .band = "40-59"},
    };
    Run r = run(rows, 3, true); // the same pseudonym, although the band differs
    ck_assert_uint_eq(r.t->other_line[0], 3);
    ck_assert_uint_eq(count(&r, "ends-differ"), 2); // departure and band
    end(&r);
    r = run(rows, 3, false); // each unit numbers for itself
    ck_assert_uint_eq(r.t->other_line[0], 4);
    end(&r);
    rows[1].departed = "2031-01-01T12:30"; // the times have to agree too
    r = run(rows, 3, true);
    ck_assert_uint_eq(r.t->other_line[0], 4);
    end(&r);
    rows[0].to = NULL; // the ends where known
    rows[1].departed = "2031-01-01T10:00";
    r = run(rows, 3, true);
    ck_assert_uint_eq(r.t->other_line[0], 3);
    ck_assert_uint_eq(transfers_units(r.t, FIELD_receiving_unit)[0], transfers_unit(r.t, "B", 1));
    end(&r);
}
END_TEST

START_TEST(merged_values) {
    const Hand rows[] = {
        {SENT, .requested = "2031-01-01T09:00", .departed = "2031-01-01T10:00",
         .arrived = "2031-01-01T11:00", .events = "airway:low;delay;airway:moderate"},
        {RECEIVED, .requested = "2031-01-01T09:10", .arrived = "2031-01-01T11:04",
         .condition = "sepsis", .events = "medication:none;airway:severe;delay:low"},
    };
    Run r = run(rows, 2, false);
    ck_assert_uint_eq(r.t->n, 1);
    ck_assert_int_eq(transfers_times(r.t, FIELD_requested_at)[0], hand_time("2031-01-01T09:00"));
    ck_assert_int_eq(transfers_times(r.t, FIELD_arrived_at)[0], hand_time("2031-01-01T11:04"));
    ck_assert_uint_eq(transfers_codes(r.t, FIELD_condition)[0], CODE_condition_SEPSIS);
    ck_assert_uint_eq(transfers_units(r.t, FIELD_recorded_by)[0], 0);
    size_t n;
    const Event *e = transfers_events_of(r.t, 0, &n);
    const Event want[] = {{CODE_event_AIRWAY, CODE_harm_SEVERE},
                          {CODE_event_AIRWAY, CODE_harm_LOW},
                          {CODE_event_MEDICATION, CODE_harm_NONE},
                          {CODE_event_DELAY, CODE_harm_LOW}};
    ck_assert_uint_eq(n, 4);
    ck_assert_mem_eq(e, want, sizeof want);
    ck_assert_uint_eq(count(&r, "ends-differ"), 3); // request, arrival, events
    const MergeField *arrived = &r.join->agreement->field[FIELD_arrived_at];
    ck_assert(arrived->both == 1 && arrived->equal == 0 && arrived->near == 1);
    const MergeField *condition = &r.join->agreement->field[FIELD_condition];
    ck_assert(condition->sender_known == 0 && condition->receiver_known == 1);
    end(&r);
}
END_TEST

START_TEST(any_order) { // the same pairs whatever order the rows come in
    enum { N = 60 };
    Hand rows[N];
    char clock[N][20];
    static const char *const bands[] = {NULL, "40-59", "60-74"};
    for (int i = 0; i < N; i++) { // a dense row of transfers, with ties
        g_snprintf(clock[i], sizeof clock[i], "2031-01-01T%02d:%02d", (i * 7 + i / 6) % 10,
                   i * 13 % 60 / 10 * 10);
        rows[i] = (Hand){SENT, .departed = clock[i], .band = bands[i % 3]};
        if (i % 2)
            rows[i].keeper = "B", rows[i].file = 1;
    }
    Run first = run(rows, N, false);
    ck_assert(first.join->joined > 3 && first.join->doubtful > 3);
    for (int turn = 1; turn < 5; turn++) {
        Hand turned[N];
        for (int i = 0; i < N; i++)
            turned[(i * 7 + turn) % N] = rows[i]; // 7 and 60 share no factor
        Run r = run(turned, N, false);
        ck_assert_uint_eq(r.join->joined, first.join->joined);
        ck_assert_uint_eq(r.join->doubtful, first.join->doubtful);
        ck_assert_uint_eq(r.join->would_join, first.join->would_join);
        end(&r);
    }
    end(&first);
}
END_TEST

START_TEST(piles) { // 200,000 rows alike: in doubt, and soon found to be
    Transfers *t = transfers_new();
    const Hand rows[] = {{SENT, .departed = "2031-01-01T10:00"},
                         {RECEIVED, .departed = "2031-01-01T10:00"}};
    for (uint32_t i = 0; i < 200000; i++)
        hand_add(t, &rows[i % 2], i + 2);
    ck_assert(transfers_seal(t));
    Run r = {t, network_load(NULL, NULL), finding_list_new(), join_new()};
    uint8_t *keep = g_malloc(t->n);
    join_ends(t, r.network, names, keep, r.join, r.findings);
    ck_assert_uint_eq(r.join->doubtful, 10000000000);
    ck_assert_uint_eq(r.join->would_join, 100000);
    g_free(keep);
    end(&r);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("cohort: both ends");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, window);
    tcase_add_test(tests, band_and_condition);
    tcase_add_test(tests, who_may_be_joined);
    tcase_add_test(tests, best_first);
    tcase_add_test(tests, known_agreement_is_better);
    tcase_add_test(tests, second_partner_as_good);
    tcase_add_test(tests, only_ends);
    tcase_add_test(tests, pseudonyms);
    tcase_add_test(tests, merged_values);
    tcase_add_test(tests, any_order);
    tcase_add_test(tests, piles);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
