// SPDX-License-Identifier: GPL-3.0-or-later
// Which rows of small tables are hidden: tables in which that can be found by hand.
#include "disclosure/hiding.h"

#include <check.h>
#include <math.h>

enum { UNITS = 4, LEAST = 5, MOST_TABLES = 4 };

// Events and total of one indicator: of the network, then of each unit.
typedef struct {
    double events[UNITS + 1], total[UNITS + 1];
} Table;

typedef struct {
    Indicator indicator[MOST_TABLES];
    Transfers t;
    Estimates e;
} Made;

// Shares over one period.
static Made *make(const Table *tables, guint n) {
    Made *m = g_new0(Made, 1);
    const Period all = {PERIOD_ALL, "all", 24372, 24384};
    GPtrArray *catalogue = g_ptr_array_new(), *units = g_ptr_array_new();
    for (guint u = 0; u <= UNITS; u++)
        g_ptr_array_add(units, (gpointer) "unit");
    m->t.units = units;
    m->e = (Estimates){.catalogue = catalogue,
                       .t = &m->t,
                       .periods = g_array_new(FALSE, FALSE, sizeof(Period)),
                       .units = g_array_new(FALSE, FALSE, sizeof(uint16_t)),
                       .rows = g_array_new(FALSE, FALSE, sizeof(Estimate)),
                       .confidence = 0.95};
    g_array_append_val(m->e.periods, all);
    for (uint16_t u = 0; u <= UNITS; u++)
        g_array_append_val(m->e.units, u);
    for (guint i = 0; i < n; i++) {
        m->indicator[i].measure = MEASURE_SHARE;
        g_ptr_array_add(catalogue, &m->indicator[i]);
        for (guint u = 0; u <= UNITS; u++) {
            const Estimate r = {.indicator = (uint16_t)i,
                                .unit = (uint16_t)u,
                                .by = FIELD_COUNT,
                                .events = tables[i].events[u],
                                .total = tables[i].total[u],
                                .estimate = tables[i].events[u] / tables[i].total[u]};
            g_array_append_val(m->e.rows, r);
        }
    }
    return m;
}

static void clear(Made *m) {
    g_ptr_array_unref((GPtrArray *)m->e.catalogue);
    g_ptr_array_unref(m->t.units);
    g_array_unref(m->e.periods);
    g_array_unref(m->e.units);
    g_array_unref(m->e.rows);
    g_free(m);
}

// s shown, # small, x for others' sake; row by row.
static void expect_of(Made *m, const char *kinds) {
    static const char letters[HIDING_KINDS] = {'s', '#', 'e', 'x'};
    Hiding *h = hiding_new(&m->e, LEAST);
    char got[MOST_TABLES * (UNITS + 1) + 1] = "";
    for (guint k = 0; k < m->e.rows->len; k++)
        got[k] = letters[h->of[k]];
    ck_assert_str_eq(got, kinds);
    hiding_free(h);
    clear(m);
}

static void expect(const Table *tables, guint n, const char *kinds) {
    expect_of(make(tables, n), kinds);
}

START_TEST(nothing_small) {
    expect(&(Table){{60, 10, 20, 0, 30}, {200, 50, 40, 40, 70}}, 1, "sssss");
}
END_TEST

// The network less the other units would give the first away, so the next smallest goes, too; and
// not the unit without events, which would not make it harder.
START_TEST(one_small) {
    expect(&(Table){{63, 3, 20, 0, 40}, {220, 50, 60, 40, 70}}, 1, "s#xss");
    expect(&(Table){{23, 3, 20, 0, 0}, {220, 50, 60, 40, 70}}, 1, "s#xss");
}
END_TEST

// Those that are no event are few; the smallest unit goes with them.
START_TEST(rest_small) {
    expect(&(Table){{172, 48, 50, 20, 54}, {220, 50, 60, 40, 70}}, 1, "s#sxs");
}
END_TEST

// Two hidden counts that come to less than 5 together would be a small count, too; four that come
// to 5 and more would not.
START_TEST(small_together) {
    expect(&(Table){{52, 1, 2, 9, 40}, {220, 50, 60, 40, 70}}, 1, "s##xs");
    expect(&(Table){{47, 3, 4, 0, 40}, {220, 50, 60, 40, 70}}, 1, "s##ss");
}
END_TEST

// Only the small one has events: no other row can hide it, so the network goes.
START_TEST(nothing_to_hide_behind) {
    expect(&(Table){{3, 3, 0, 0, 0}, {220, 50, 60, 40, 70}}, 1, "##sss");
}
END_TEST

// Nothing can be shown, and that is the end of it.
START_TEST(all_small) {
    expect(&(Table){{4, 1, 1, 1, 1}, {4, 1, 1, 1, 1}}, 1, "#####");
}
END_TEST

// Two indicators that count the same: were another row hidden in each, each would show what is
// hidden in the other.
START_TEST(same_counts_twice) {
    const Table twice[] = {{{63, 3, 20, 10, 30}, {220, 50, 60, 40, 70}},
                           {{63, 3, 20, 10, 30}, {225, 51, 61, 42, 71}}};
    expect(twice, 2, "s#sxss#sxs");
}
END_TEST

// 40 asked for a unit's team, 2 of them stood down and 38 not, of whom 36 left and 2 died before:
// the first two tables. Who knows 40 and 36, by two more that count them, knows that 2 + 2 are
// hidden, too few to be known together. The last unit of the first two hides the small ones.
START_TEST(sum_by_two_equations) {
    const Table tables[] = {{{62, 2, 20, 20, 20}, {340, 40, 100, 100, 100}},
                            {{186, 36, 50, 50, 50}, {278, 38, 80, 80, 80}},
                            {{151, 17, 43, 44, 47}, {340, 40, 100, 100, 100}},
                            {{63, 11, 13, 16, 23}, {186, 36, 50, 50, 50}}};
    expect(tables, 4, "s#ssxs#ssxssssssxssx");
}
END_TEST

// Hours of few, though nothing happened in them: the total is of records here, and becomes hours.
START_TEST(hours_of_few) {
    Made *m = make(&(Table){{60, 0, 20, 10, 30}, {163, 3, 50, 40, 70}}, 1);
    m->indicator[0].measure = MEASURE_RATE;
    m->indicator[0].exposure = EXPOSURE_HOURS;
    for (guint k = 0; k < m->e.rows->len; k++) {
        Estimate *r = &g_array_index(m->e.rows, Estimate, k);
        r->records = r->total;
        r->total *= 1.5;
    }
    expect_of(m, "s#sxs");
}
END_TEST

// The mask leaves no number.
START_TEST(mask_holds_no_number) {
    Made *m = make(&(Table){{63, 3, 20, 0, 40}, {220, 50, 60, 40, 70}}, 1);
    Hiding *h = hiding_new(&m->e, LEAST);
    Estimates *masked = hiding_masked(&m->e, h);
    ck_assert_uint_eq(h->rows[HIDING_SHOWN], 3);
    ck_assert_uint_eq(h->rows[HIDING_SMALL], 1);
    ck_assert_uint_eq(h->rows[HIDING_DERIVED], 1);
    for (guint k = 0; k < masked->rows->len; k++) {
        const Estimate *r = &g_array_index(masked->rows, Estimate, k);
        ck_assert_int_eq(r->suppressed, h->of[k] != HIDING_SHOWN);
        ck_assert_int_eq(isnan(r->events) && isnan(r->total) && isnan(r->estimate), r->suppressed);
        ck_assert_str_eq(estimate_method(masked, r), r->suppressed ? "suppressed" : "wilson");
    }
    estimate_free(masked);
    hiding_free(h);
    clear(m);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("disclosure_hiding");
    TCase *all = tcase_create("hiding");
    tcase_add_test(all, nothing_small);
    tcase_add_test(all, one_small);
    tcase_add_test(all, rest_small);
    tcase_add_test(all, small_together);
    tcase_add_test(all, nothing_to_hide_behind);
    tcase_add_test(all, all_small);
    tcase_add_test(all, same_counts_twice);
    tcase_add_test(all, sum_by_two_equations);
    tcase_add_test(all, hours_of_few);
    tcase_add_test(all, mask_holds_no_number);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed > 0;
}
