// SPDX-License-Identifier: GPL-3.0-or-later
// Which units differ in one item of a complete transfer: not one whose record or two may well be so
// by chance, but one that lacks it often.
#include "measure/items.h"
#include "record/derive.h"

#include <check.h>
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

static void add(Transfers *t, const char *unit, int with, int without) {
    for (int i = 0; i < with + without; i++) {
        Draft d;
        transfers_clear_draft(&d);
        d.value[FIELD_sending_unit] = transfers_unit(t, unit, strlen(unit));
        d.value[FIELD_requested_at] = 31 * 366 * WHEN_DAY + i;
        d.value[FIELD_departed_at] = 31 * 366 * WHEN_DAY + i + 60;
        d.value[FIELD_mains_power] = field_code(field_table[FIELD_mains_power].codes,
                                                i < with ? "yes" : "no", i < with ? 3 : 2);
        ck_assert(transfers_add(t, &d));
    }
}

// Cells of mains power by place: all, then units by code.
static ItemsCell *cells_of(GPtrArray *items) {
    for (guint k = 0; k < items->len; k++) {
        Item *item = items->pdata[k];
        if (item->field == FIELD_mains_power)
            return item->cells;
    }
    ck_abort_msg("no such item");
}

START_TEST(few_records_differ_by_chance) {
    Network *network = network_load(NULL, NULL);
    GPtrArray *catalogue = catalogue_load(network, NULL);
    Transfers *t = transfers_new();
    add(t, "A", 980, 20);
    add(t, "B", 0, 1); // of 1 in 50: 0.02
    add(t, "C", 1, 1);
    add(t, "D", 40, 20);
    ck_assert(transfers_seal(t));
    derive_fill(t, network, 1);
    CountData *data = count_data_new(t, network, catalogue, &(CountSpan){0});
    GPtrArray *items = items_all(data, catalogue, 0.95);
    const ItemsCell *cell = cells_of(items);
    const double all = cell[0].share.estimate;
    ck_assert_double_eq_tol(all, 1021.0 / 1063, 1e-12);
    for (int u = 1; u <= 4; u++) {
        // four limits hold together at 0.95: each at 0.95^(1/4), and that by the exact tails
        const double tail = (1 - pow(0.95, 0.25)) / 2;
        const unsigned x = (unsigned)cell[u].events, n = (unsigned)cell[u].total;
        const double fewer = gsl_cdf_binomial_P(x, all, n),
                     more = x > 0 ? gsl_cdf_binomial_Q(x - 1, all, n) : 1;
        ck_assert_int_eq(cell[u].together.upper < all, fewer < tail);
        ck_assert_int_eq(cell[u].together.lower > all, more < tail);
    }
    ck_assert_double_ge(cell[2].together.upper, all);
    ck_assert_double_lt(cell[4].together.upper, all);
    g_ptr_array_unref(items);
    count_data_free(data);
    transfers_free(t);
    g_ptr_array_unref(catalogue);
    network_free(network);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("items");
    TCase *all = tcase_create("all");
    tcase_add_test(all, few_records_differ_by_chance);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
