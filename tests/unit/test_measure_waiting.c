// SPDX-License-Identifier: GPL-3.0-or-later
// Cumulative ends and phases of a handful of requests, worked out by hand from the
// definitions (Aalen & Johansen 1978; Hyndman & Fan 1996, definition 2).
#include "measure/waiting.h"
#include "record/derive.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>

static const Period always = {.first = 0, .end = 12 * 9999};

// Minutes after the request of departure or end, WHEN_UNKNOWN for none; outcome 0 = not said.
static void add(Transfers *t, int32_t left, int32_t ended, int outcome) {
    Draft d;
    transfers_clear_draft(&d);
    d.value[FIELD_sending_unit] = transfers_unit(t, "A", 1);
    d.value[FIELD_urgency] = CODE_urgency_URGENT;
    d.value[FIELD_requested_at] = 0;
    if (left != WHEN_UNKNOWN) {
        d.value[FIELD_departed_at] = left;
        d.value[FIELD_accepted_at] = left / 4;
        d.value[FIELD_at_patient_at] = left / 2;
        d.value[FIELD_arrived_at] = left + 30;
        d.value[FIELD_handed_over_at] = left + 50;
    }
    if (ended != WHEN_UNKNOWN)
        d.value[FIELD_ended_at] = ended;
    d.value[FIELD_outcome] = outcome;
    ck_assert(transfers_add(t, &d));
}

static const WaitingPoint *last_by(const WaitingGroup *g, double minutes) {
    const WaitingPoint *found = NULL;
    for (guint k = 0; k < g->points->len; k++)
        if (g_array_index(g->points, WaitingPoint, k).minutes <= minutes)
            found = &g_array_index(g->points, WaitingPoint, k);
    return found;
}

START_TEST(curve_by_hand) {
    Network *network = network_load(NULL, NULL);
    Transfers *t = transfers_new();
    add(t, 60, WHEN_UNKNOWN, CODE_outcome_COMPLETED);
    add(t, 120, WHEN_UNKNOWN, CODE_outcome_COMPLETED);
    add(t, WHEN_UNKNOWN, 90, CODE_outcome_STOOD_DOWN);
    add(t, 240, WHEN_UNKNOWN, CODE_outcome_COMPLETED);
    add(t, WHEN_UNKNOWN, WHEN_UNKNOWN, 0);                       // open: censored after a day
    add(t, WHEN_UNKNOWN, WHEN_UNKNOWN, CODE_outcome_STOOD_DOWN); // ended, nobody knows when
    ck_assert(transfers_seal(t));
    derive_fill(t, network, 1);
    const int32_t received[] = {1};
    GPtrArray *groups = waiting_groups(t, network, received, 0, &always, 0.95);
    const WaitingGroup *g = groups->pdata[CODE_urgency_URGENT - 1];
    ck_assert_uint_eq(g->requests, 5);
    ck_assert_uint_eq(g->open, 1);
    ck_assert_uint_eq(g->left_out, 1);
    // by 60 min 1 of 5; at 90 one ends without leaving; at 120 one of 3 left, of 3/5 still open
    ck_assert_double_eq_tol(last_by(g, 85)->end[WAITING_LEFT].estimate, 1.0 / 5, 1e-12);
    ck_assert_double_eq_tol(last_by(g, 200)->end[WAITING_LEFT].estimate, 2.0 / 5, 1e-12);
    ck_assert_double_eq_tol(last_by(g, 1000)->end[WAITING_LEFT].estimate, 3.0 / 5, 1e-12);
    ck_assert_double_eq(last_by(g, 85)->at_risk, 4);
    ck_assert(last_by(g, 200)->end[WAITING_LEFT].lower < 0.4 &&
              last_by(g, 200)->end[WAITING_LEFT].upper > 0.4);
    // stood down: that one of the four of 4/5 still open
    ck_assert_double_eq_tol(last_by(g, 1000)->end[WAITING_STOOD_DOWN].estimate, 1.0 / 5, 1e-12);
    ck_assert_uint_eq(g->ended[WAITING_STOOD_DOWN], 1);
    // phases of the three complete chains: quarter, quarter and half of 60, 120 and 240
    ck_assert_uint_eq(g->chains, 3);
    ck_assert_double_eq(g->median[0], 30);
    ck_assert_double_eq(g->median[2], 60);
    ck_assert_double_eq(g->median[3], 30);
    ck_assert_double_eq(g->median[4], 20);
    const WaitingGroup *none = groups->pdata[CODE_urgency_PLANNED - 1];
    ck_assert(none->requests == 0 && none->points->len == 0 && isnan(none->median[0]));
    g_ptr_array_unref(groups);
    transfers_free(t);
    network_free(network);
}
END_TEST

// At any time those still open and the three ends make up all (an identity of Aalen-Johansen).
START_TEST(open_and_ends_make_up_all) {
    Network *network = network_load(NULL, NULL);
    Transfers *t = transfers_new();
    for (int i = 1; i <= 40; i++) {
        const bool left = i % 3 == 0, stood = i % 3 == 1 && i % 2 == 0, died = i % 7 == 1;
        add(t, left ? 13 * i : WHEN_UNKNOWN, !left && (stood || died) ? 11 * i : WHEN_UNKNOWN,
            left    ? CODE_outcome_COMPLETED
            : stood ? CODE_outcome_STOOD_DOWN
            : died  ? CODE_outcome_DIED_BEFORE_DEPARTURE
                    : 0);
    }
    ck_assert(transfers_seal(t));
    derive_fill(t, network, 1);
    const int32_t received[] = {1};
    GPtrArray *groups = waiting_groups(t, network, received, 0, &always, 0.95);
    const WaitingGroup *g = groups->pdata[CODE_urgency_URGENT - 1];
    ck_assert_uint_eq(g->requests, 40);
    ck_assert_uint_gt(g->open, 0);
    ck_assert_uint_eq(g->open + g->ended[0] + g->ended[1] + g->ended[2], 40);
    ck_assert_uint_gt(g->points->len, 10);
    double before = 0;
    for (guint k = 0; k < g->points->len; k++) {
        const WaitingPoint *p = &g_array_index(g->points, WaitingPoint, k);
        ck_assert_double_gt(p->minutes, before);
        before = p->minutes;
        double sum = p->open;
        for (unsigned e = 0; e < WAITING_ENDS; e++)
            sum += p->end[e].estimate;
        ck_assert_double_eq_tol(sum, 1, 1e-12);
    }
    // each end occurs, so that the sum is not that of one curve and its rest
    const WaitingPoint *last = last_by(g, INFINITY);
    for (unsigned e = 0; e < WAITING_ENDS; e++)
        ck_assert_double_gt(last->end[e].estimate, 0);
    g_ptr_array_unref(groups);
    transfers_free(t);
    network_free(network);
}
END_TEST

// Only records of the span: all of these belong to the month of day 0.
START_TEST(other_months_are_left_out) {
    Network *network = network_load(NULL, NULL);
    Transfers *t = transfers_new();
    add(t, 60, WHEN_UNKNOWN, CODE_outcome_COMPLETED);
    ck_assert(transfers_seal(t));
    derive_fill(t, network, 1);
    const int32_t received[] = {1};
    const int month = period_month(0);
    const Period own = {.first = month, .end = month + 1},
                 next = {.first = month + 1, .end = month + 2};
    GPtrArray *in = waiting_groups(t, network, received, 0, &own, 0.95),
              *out = waiting_groups(t, network, received, 0, &next, 0.95);
    const WaitingGroup *here = in->pdata[CODE_urgency_URGENT - 1],
                       *there = out->pdata[CODE_urgency_URGENT - 1];
    ck_assert(here->requests == 1 && here->chains == 1);
    ck_assert(there->requests == 0 && there->chains == 0 && there->left_out == 0);
    g_ptr_array_unref(in);
    g_ptr_array_unref(out);
    transfers_free(t);
    network_free(network);
}
END_TEST

START_TEST(nothing_received_leaves_open_ones_out) {
    Network *network = network_load(NULL, NULL);
    Transfers *t = transfers_new();
    add(t, 60, WHEN_UNKNOWN, CODE_outcome_COMPLETED);
    add(t, WHEN_UNKNOWN, WHEN_UNKNOWN, 0);
    ck_assert(transfers_seal(t));
    derive_fill(t, network, 1);
    const int32_t received[] = {WHEN_UNKNOWN};
    GPtrArray *groups = waiting_groups(t, network, received, 0, &always, 0.95);
    const WaitingGroup *g = groups->pdata[CODE_urgency_URGENT - 1];
    ck_assert(g->requests == 1 && g->open == 0 && g->left_out == 1);
    g_ptr_array_unref(groups);
    transfers_free(t);
    network_free(network);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("measure: waiting");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, curve_by_hand);
    tcase_add_test(tests, open_and_ends_make_up_all);
    tcase_add_test(tests, other_months_are_left_out);
    tcase_add_test(tests, nothing_received_leaves_open_ones_out);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
