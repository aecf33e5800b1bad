// SPDX-License-Identifier: GPL-3.0-or-later
// Counts by two fields, by hand.
#include "measure/crosstab.h"
#include "record/derive.h"

#include <check.h>
#include <stdlib.h>

static void add(Transfers *t, const char *from, const char *to, int32_t departed, uint8_t outcome) {
    Draft d;
    transfers_clear_draft(&d);
    d.value[FIELD_sending_unit] = transfers_unit(t, from, 1);
    d.value[FIELD_receiving_unit] = to ? transfers_unit(t, to, 1) : 0;
    d.value[FIELD_requested_at] = 1000000;
    d.value[FIELD_departed_at] = departed;
    d.value[FIELD_outcome] = outcome;
    ck_assert(transfers_add(t, &d));
}

START_TEST(pairs_are_counted) {
    Network *network = network_load(NULL, NULL);
    Transfers *t = transfers_new();
    add(t, "A", "B", 1000100, 0);
    add(t, "A", "B", 1000200, CODE_outcome_COMPLETED);
    add(t, "A", NULL, WHEN_UNKNOWN, CODE_outcome_STOOD_DOWN);
    add(t, "B", "A", WHEN_UNKNOWN, 0);
    ck_assert(transfers_seal(t));
    derive_fill(t, network, 1);
    Crosstab *flow = crosstab_fields(t, NULL, NULL, FIELD_sending_unit, FIELD_receiving_unit);
    ck_assert_uint_eq(crosstab_at(flow, 1, 2), 2);
    ck_assert_uint_eq(crosstab_at(flow, 1, 0), 1);
    ck_assert_uint_eq(crosstab_at(flow, 2, 1), 1);
    crosstab_free(flow);
    Condition *left = condition_parse("departed=yes", NULL);
    flow = crosstab_fields(t, NULL, left, FIELD_sending_unit, FIELD_receiving_unit);
    ck_assert_uint_eq(crosstab_at(flow, 1, 2), 2);
    ck_assert_uint_eq(crosstab_at(flow, 1, 0), 0);
    ck_assert_uint_eq(crosstab_at(flow, 2, 1), 0);
    crosstab_free(flow);
    condition_free(left);
    static const uint8_t in[] = {1, 0, 0, 1}; // the first and the last alone
    flow = crosstab_fields(t, in, NULL, FIELD_sending_unit, FIELD_receiving_unit);
    ck_assert_uint_eq(crosstab_at(flow, 1, 2), 1);
    ck_assert_uint_eq(crosstab_at(flow, 1, 0), 0);
    ck_assert_uint_eq(crosstab_at(flow, 2, 1), 1);
    crosstab_free(flow);
    // of four requests two left: the outcome is asked of all, the arrival of those that left, the
    // end of the one that did not
    Crosstab *asked, *known;
    crosstab_completeness(t, NULL, &asked, &known);
    ck_assert_uint_eq(crosstab_at(asked, 0, FIELD_outcome), 4);
    ck_assert_uint_eq(crosstab_at(known, 0, FIELD_outcome), 2);
    ck_assert_uint_eq(crosstab_at(asked, 0, FIELD_arrived_at), 2);
    ck_assert_uint_eq(crosstab_at(known, 0, FIELD_arrived_at), 0);
    ck_assert_uint_eq(crosstab_at(asked, 0, FIELD_ended_at), 1);
    ck_assert_uint_eq(crosstab_at(asked, 1, FIELD_receiving_unit), 3);
    ck_assert_uint_eq(crosstab_at(known, 1, FIELD_receiving_unit), 2);
    ck_assert_uint_eq(crosstab_at(asked, 2, FIELD_arrived_at), 0);
    ck_assert_uint_eq(crosstab_at(asked, 0, FIELD_transfer_date), 4);
    ck_assert_uint_eq(crosstab_at(known, 0, FIELD_transfer_date), 0);
    crosstab_free(asked);
    crosstab_free(known);
    crosstab_completeness(t, in, &asked, &known);
    ck_assert_uint_eq(crosstab_at(asked, 0, FIELD_outcome), 2);
    ck_assert_uint_eq(crosstab_at(known, 0, FIELD_outcome), 0);
    ck_assert_uint_eq(crosstab_at(asked, 1, FIELD_receiving_unit), 1);
    ck_assert_uint_eq(crosstab_at(asked, 0, FIELD_arrived_at), 1);
    ck_assert_uint_eq(crosstab_at(asked, 0, FIELD_ended_at), 0);
    crosstab_free(asked);
    crosstab_free(known);
    transfers_free(t);
    network_free(network);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("crosstab");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, pairs_are_counted);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
