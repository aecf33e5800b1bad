// SPDX-License-Identifier: GPL-3.0-or-later
// The records behind a cell come to the cell's counts: every cell of the sample data's table, which
// tests/oracle holds against R.
#include "command/command.h"
#include "command/session.h"
#include "measure/members.h"

#include <check.h>
#include <math.h>

static Session session;
static Estimates *table;
static CountData *data;

static void load(void) {
    char folder[] = "sample-data/logs", network[] = "sample-data/network";
    char *logs[] = {folder, NULL};
    const SessionOptions o = {
        .network_dir = network, .logs = logs, .confidence = 0.95, .threads = 1};
    const CountSpan span = {0};
    GError *error = NULL;
    ck_assert_int_eq(session_load(&o, &session, &error), COMMAND_DONE);
    ck_assert_int_eq(session_read(&session, &error), COMMAND_DONE);
    table = estimate_all(session.t, session.network, session.catalogue, &session.settings);
    data = count_data_new(session.t, session.network, session.catalogue, &span);
}

static void unload(void) {
    count_data_free(data);
    estimate_free(table);
    session_clear(&session);
}

// Equal, or both without a value. Sums of distances are not added up in one order.
static bool alike(double a, double b) {
    return (isnan(a) && isnan(b)) || fabs(a - b) <= 1e-9 * fabs(b);
}

static bool is_same_cell(const Estimate *a, const Estimate *b) {
    return a->indicator == b->indicator && a->unit == b->unit && a->period == b->period &&
           a->by == b->by && a->group == b->group && a->part == b->part;
}

START_TEST(members_of_every_cell_come_to_its_counts) {
    guint cells = 0;
    for (guint r = 0; r < table->rows->len; r++) {
        const Estimate *row = &g_array_index(table->rows, Estimate, r);
        if (r > 0 && is_same_cell(row, row - 1))
            continue; // another quantile of the same durations
        const Indicator *in = table->catalogue->pdata[row->indicator];
        const Period *p = &g_array_index(table->periods, Period, row->period);
        const MembersCell cell = {row->unit, p->first, p->end, row->by, row->group, row->part};
        GArray *members = members_of(data, in, &cell);
        const MembersCount c = members_count(data, in, &cell, members);
        if (c.unknown != row->unknown || !alike(c.events, row->events) ||
            !alike(c.total, row->total)) {
            char *group = estimate_group(table, row);
            ck_abort_msg("%s, unit %u, %s, %s: events %g, total %g, unknown %u; the table has %g, "
                         "%g, %u",
                         in->name, row->unit, p->name, group, c.events, c.total,
                         (unsigned)c.unknown, row->events, row->total, (unsigned)row->unknown);
        }
        g_array_unref(members);
        cells++;
    }
    ck_assert_uint_gt(cells, 20000);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("members");
    TCase *each = tcase_create("members");
    tcase_add_checked_fixture(each, load, unload);
    tcase_set_timeout(each, 120);
    tcase_add_test(each, members_of_every_cell_come_to_its_counts);
    suite_add_tcase(suite, each);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed != 0;
}
