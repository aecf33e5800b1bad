// SPDX-License-Identifier: GPL-3.0-or-later
// The column store: what is put in comes out, also by pieces; a field without values takes no room.
#include "record/transfers.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static uint16_t unit(Transfers *t, const char *code) {
    return transfers_unit(t, code, strlen(code));
}

// A record of unit `from` with a request at that minute, WHEN_UNKNOWN = without.
static void add(Transfers *t, const char *from, int32_t requested, uint32_t line) {
    Draft d;
    transfers_clear_draft(&d);
    d.value[FIELD_sending_unit] = unit(t, from);
    d.value[FIELD_requested_at] = requested;
    d.line = line;
    ck_assert(transfers_add(t, &d));
}

static const char *from_of(const Transfers *t, size_t row) {
    return t->units->pdata[transfers_units(t, FIELD_sending_unit)[row]];
}

START_TEST(columns_come_with_values) {
    Transfers *t = transfers_new();
    add(t, "A", WHEN_UNKNOWN, 2);
    add(t, "B", WHEN_UNKNOWN, 3);
    ck_assert(!t->column[FIELD_requested_at] && !t->column[FIELD_urgency]);
    add(t, "A", 77, 4);
    ck_assert(t->column[FIELD_requested_at] && !t->column[FIELD_departed_at]);
    ck_assert(transfers_seal(t));
    const int32_t *requested = transfers_times(t, FIELD_requested_at);
    ck_assert(requested[0] == WHEN_UNKNOWN && requested[1] == WHEN_UNKNOWN && requested[2] == 77);
    // what no record has reads as unknown, of each kind
    ck_assert_int_eq(transfers_times(t, FIELD_departed_at)[2], WHEN_UNKNOWN);
    ck_assert_int_eq(transfers_date(t, FIELD_transfer_date, 0), WHEN_UNKNOWN);
    ck_assert_uint_eq(transfers_codes(t, FIELD_urgency)[1], 0);
    ck_assert_uint_eq(transfers_units(t, FIELD_receiving_unit)[1], 0);
    ck_assert(isnan(((const double *)t->column[FIELD_distance_km])[2]));
    ck_assert(((const uint64_t *)t->column[FIELD_transfer_id])[2] == 0);
    ck_assert(((const uint32_t *)t->column[FIELD_events])[2] == 0);
    ck_assert_ptr_eq(t->column[FIELD_departed_at], t->column[FIELD_arrived_at]);
    transfers_free(t);
}
END_TEST

START_TEST(own_column_is_not_shared) {
    Transfers *t = transfers_new();
    add(t, "A", 1, 2);
    add(t, "B", 2, 3);
    ck_assert(transfers_seal(t));
    int32_t *arrived = transfers_own(t, FIELD_arrived_at);
    arrived[1] = 5;
    ck_assert_int_eq(transfers_times(t, FIELD_arrived_at)[0], WHEN_UNKNOWN);
    ck_assert_int_eq(transfers_times(t, FIELD_arrived_at)[1], 5);
    ck_assert_int_eq(transfers_times(t, FIELD_departed_at)[1], WHEN_UNKNOWN);
    const uint8_t keep[] = {0, 1};
    transfers_keep(t, keep);
    ck_assert_uint_eq(t->n, 1);
    ck_assert_int_eq(transfers_times(t, FIELD_arrived_at)[0], 5);
    ck_assert_int_eq(transfers_times(t, FIELD_departed_at)[0], WHEN_UNKNOWN);
    // more records after sealing
    for (uint32_t i = 0; i < 1000; i++)
        add(t, "C", (int32_t)i, i);
    ck_assert(transfers_seal(t));
    ck_assert_int_eq(transfers_times(t, FIELD_departed_at)[1000], WHEN_UNKNOWN);
    ck_assert_int_eq(transfers_times(t, FIELD_arrived_at)[0], 5);
    ck_assert_int_eq(transfers_times(t, FIELD_arrived_at)[1000], WHEN_UNKNOWN);
    transfers_free(t);
}
END_TEST

START_TEST(absorbing) {
    Transfers *t = transfers_new(), *piece = transfers_new();
    const Event airway = {CODE_event_AIRWAY, CODE_harm_LOW}, delay = {CODE_event_DELAY, 0};
    add(t, "A", 10, 2);
    const uint32_t first = transfers_events(t, &airway, 1);
    Draft d;
    transfers_clear_draft(&d);
    d.value[FIELD_sending_unit] = unit(piece, "B"); // index 1 there, 2 here
    d.value[FIELD_receiving_unit] = unit(piece, "A");
    d.value[FIELD_events] = transfers_events(piece, &delay, 1);
    d.value[FIELD_urgency] = CODE_urgency_PLANNED;
    d.distance_km = 2.5;
    d.line = 1;
    ck_assert(transfers_add(piece, &d));
    d.value[FIELD_events] = transfers_events(piece, NULL, 0); // none
    d.line = 4;
    ck_assert(transfers_add(piece, &d));
    ck_assert(transfers_absorb(t, piece, 7, 100));
    ck_assert(transfers_seal(t));
    ck_assert_uint_eq(t->n, 3);
    ck_assert_str_eq(from_of(t, 0), "A");
    ck_assert_str_eq(from_of(t, 2), "B");
    ck_assert_str_eq(t->units->pdata[transfers_units(t, FIELD_receiving_unit)[1]], "A");
    ck_assert(transfers_units(t, FIELD_receiving_unit)[0] == 0 && t->line[1] == 101);
    ck_assert(t->file[0] == 0 && t->file[2] == 7 && t->line[0] == 2 && t->line[2] == 104);
    ck_assert_int_eq(transfers_times(t, FIELD_requested_at)[0], 10);
    ck_assert_int_eq(transfers_times(t, FIELD_requested_at)[2], WHEN_UNKNOWN);
    ck_assert(transfers_codes(t, FIELD_urgency)[0] == 0 &&
              transfers_codes(t, FIELD_urgency)[1] == CODE_urgency_PLANNED);
    ck_assert(isnan(((const double *)t->column[FIELD_distance_km])[0]));
    size_t n;
    const Event *events = transfers_events_of(t, 1, &n);
    ck_assert(n == 1 && events[0].category == CODE_event_DELAY && events[0].harm == 0);
    ck_assert(!transfers_events_of(t, 2, &n) && n == 0);
    ck_assert(((const uint32_t *)t->column[FIELD_events])[2] != 0); // none is known
    ck_assert(((const uint32_t *)t->column[FIELD_events])[0] == 0); // nobody wrote it down
    ck_assert_uint_eq(transfers_events(t, &airway, 1), first);
    transfers_free(piece);
    transfers_free(t);
}
END_TEST

START_TEST(ids_are_dropped) {
    Transfers *t = transfers_new();
    const uint64_t ids[] = {UINT64_MAX, 0, 256, 0, 1}; // 256: its least byte is 0
    for (uint32_t i = 0; i < G_N_ELEMENTS(ids); i++) {
        Draft d;
        transfers_clear_draft(&d);
        d.value[FIELD_sending_unit] = unit(t, "A");
        d.id[0] = ids[i];
        d.line = i;
        ck_assert(transfers_add(t, &d));
    }
    ck_assert(transfers_seal(t));
    transfers_drop_ids(t);
    const uint8_t keep[] = {1, 0, 1, 1, 1};
    transfers_keep(t, keep);
    const uint8_t *known = t->column[FIELD_transfer_id], *none = t->column[FIELD_episode_id];
    ck_assert(known[0] == 1 && known[1] == 1 && known[2] == 0 && known[3] == 1 && t->line[3] == 4);
    ck_assert(none[0] == 0 && none[3] == 0);
    transfers_free(t);
}
END_TEST

START_TEST(taking_back) {
    Transfers *t = transfers_new();
    add(t, "A", 1, 2);
    const guint units = t->units->len;
    add(t, "B", 2, 3);
    add(t, "C", 3, 4);
    transfers_truncate(t, 1, units);
    add(t, "D", 4, 5);
    ck_assert_uint_eq(t->n, 2);
    ck_assert_uint_eq(t->units->len, units + 1);
    ck_assert_str_eq(from_of(t, 1), "D");
    ck_assert_uint_eq(unit(t, "B"), units + 1); // it was forgotten, and is new again
    transfers_free(t);
}
END_TEST

START_TEST(as_many_units_as_fit) {
    Transfers *t = transfers_new();
    char code[300];
    for (int i = 1; i <= UINT16_MAX; i++) {
        g_snprintf(code, sizeof code, "U%d", i);
        ck_assert_uint_eq(unit(t, code), (unsigned)i);
    }
    ck_assert(!t->units_full);
    ck_assert_uint_eq(unit(t, "U77"), 77);
    ck_assert_uint_eq(unit(t, "one more"), 0);
    ck_assert(t->units_full);
    memset(code, 'x', sizeof code);
    ck_assert_uint_eq(transfers_unit(t, code, 256), 0);
    transfers_free(t);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("record: transfers");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, columns_come_with_values);
    tcase_add_test(tests, own_column_is_not_shared);
    tcase_add_test(tests, absorbing);
    tcase_add_test(tests, ids_are_dropped);
    tcase_add_test(tests, taking_back);
    tcase_add_test(tests, as_many_units_as_fit);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
