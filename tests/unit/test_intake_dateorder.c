// SPDX-License-Identifier: GPL-3.0-or-later
// The order of day and month: found where one order alone allows every date, refused otherwise.
#include "intake/dateorder.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

static const bool second[] = {false, true};

static bool choose(const char *text, int pivot, DateOrder *order, DateOrders *seen) {
    LogSettings settings = {.century_pivot = pivot};
    GError *error = NULL;
    *seen = dateorder_look(text, strlen(text), ',', second, 2, 2);
    const bool good = dateorder_choose(seen, &settings, order, &error);
    ck_assert(good == (error == NULL));
    g_clear_error(&error);
    return good;
}

START_TEST(one_order_is_left) {
    DateOrder order;
    DateOrders seen;
    ck_assert(choose("a,03/04/2031\nb,13/04/2031 10:00\n", -1, &order, &seen));
    ck_assert_int_eq(order, DATE_ORDER_DMY);
    ck_assert_uint_eq(seen.first_line, 2);
    ck_assert(choose("a,\nb,4.13.2031\n", -1, &order, &seen));
    ck_assert_int_eq(order, DATE_ORDER_MDY);
    ck_assert_uint_eq(seen.first_line, 3);
    ck_assert(choose("a,31/12/29\nb,30/11/31\n", 70, &order, &seen)); // no 31 November
    ck_assert_int_eq(order, DATE_ORDER_DMY);
    // nothing to find: the year comes first, a clock, another column
    ck_assert(choose("a,2031-03-04\n03/04/2031,10:15\n", -1, &order, &seen));
    ck_assert_int_eq(order, DATE_ORDER_UNSET);
}
END_TEST

START_TEST(doubt_refuses) {
    DateOrder order;
    DateOrders seen;
    ck_assert(!choose("a,03/04/2031\nb,05/06/2031\n", -1, &order, &seen)); // either
    ck_assert(!choose("a,13/04/2031\nb,04/13/2031\n", -1, &order, &seen)); // neither
    ck_assert(!choose("a,13/04/31\nb,30/04/31\n", -1, &order, &seen));     // no pivot
    ck_assert(!choose("a,03/04/05\n", 70, &order, &seen));                 // any of three
}
END_TEST

int main(void) {
    Suite *suite = suite_create("intake: date order");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, one_order_is_left);
    tcase_add_test(tests, doubt_refuses);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
