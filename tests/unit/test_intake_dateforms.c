// SPDX-License-Identifier: GPL-3.0-or-later
// How a log writes its dates: found where one way alone allows every date, refused otherwise.
#include "intake/dateforms.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

static const bool behind_first[] = {false, true, true};

// Whether the records `text` (two or three cells each, from line 2 on) decide how dates are
// written; *line: where it says that they do not.
static bool choose(const char *text, unsigned n_cells, int pivot, StampStyle *style,
                   uint32_t *line) {
    const LogSettings settings = {.century_pivot = pivot};
    GError *error = NULL;
    *style = (StampStyle){.century_pivot = pivot, .serial_base = 0};
    *line = 0;
    const DateForms forms = dateforms_look(text, strlen(text), ',', behind_first, n_cells, 2);
    const bool good = dateforms_choose(&forms, &settings, style, line, &error);
    ck_assert(good == (error == NULL));
    g_clear_error(&error);
    return good;
}

START_TEST(one_order_is_left) {
    StampStyle style;
    uint32_t line;
    ck_assert(choose("a,03/04/2031\nb,13/04/2031 10:00\n", 2, -1, &style, &line));
    ck_assert_int_eq(style.order, DATE_ORDER_DMY);
    ck_assert(choose("a,\nb,4.13.2031\n", 2, -1, &style, &line));
    ck_assert_int_eq(style.order, DATE_ORDER_MDY);
    ck_assert(choose("a,31/12/29\nb,30/11/31\n", 2, 70, &style, &line)); // no 31 November
    ck_assert_int_eq(style.order, DATE_ORDER_DMY);
    // what exists in no order says nothing
    ck_assert(choose("a,31/13/2031\nb,13/04/2031\n", 2, -1, &style, &line));
    ck_assert_int_eq(style.order, DATE_ORDER_DMY);
    // nothing to find: the year comes first, a clock, another column
    ck_assert(choose("a,2031-03-04\n03/04/2031,10:15\n", 2, -1, &style, &line));
    ck_assert_int_eq(style.order, DATE_ORDER_UNSET);
    // no records: too many cells, too few, one alone, a broken quote
    ck_assert(choose("a,03/04/2031,\n,03/04/2031\na\nb,\"3\"/04/2031\nc,2031-03-04\n", 2, -1,
                     &style, &line));
    ck_assert_int_eq(style.order, DATE_ORDER_UNSET);
}
END_TEST

START_TEST(doubt_refuses) {
    StampStyle style;
    uint32_t line;
    ck_assert(!choose("\"a\n\",\n\nb,03/04/2031\nb,05/06/2031\n", 2, -1, &style, &line)); // either
    ck_assert_uint_eq(line, 5);
    ck_assert(!choose("a,13/04/2031\nb,04/13/2031\n", 2, -1, &style, &line)); // neither
    ck_assert_uint_eq(line, 3);
    ck_assert(!choose("a,2031-04-13\nb,30/04/31\n", 2, -1, &style, &line)); // no pivot
    ck_assert_uint_eq(line, 3);
    ck_assert(!choose("a,03/04/05\n", 2, 70, &style, &line)); // any of three
}
END_TEST

// 47916 is 2031-03-09 counted from 1900 and 2035-03-10 counted from 1904, 46454 is 2031-03-09
// counted from 1904: the bases lie 1,462 days apart (ECMA-376 part 1, 18.17.4.1, from memory).
START_TEST(serials) {
    StampStyle style;
    uint32_t line;
    ck_assert(choose("a,47916,47916.5\n", 3, -1, &style, &line));
    ck_assert_int_eq(style.serial_base, 1900);
    ck_assert(choose("a,2031-03-09,47916.5\nb,2031-03-10,\n", 3, -1, &style, &line));
    ck_assert_int_eq(style.serial_base, 1900);
    ck_assert(choose("a,2031-03-09,46454.5\n", 3, -1, &style, &line));
    ck_assert_int_eq(style.serial_base, 1904);
    // 2031-03-09 fits the first number from 1900, the second from 1904
    ck_assert(!choose("a,2031-03-09,47916\nb,2031-03-09,46454\n", 3, -1, &style, &line));
    ck_assert_uint_eq(line, 2);
    // one column of both kinds
    ck_assert(!choose("a,2031-03-09,\nb,,\nc,47916,\n", 3, -1, &style, &line));
    ck_assert_uint_eq(line, 4);
    // none: a clock, a number too small or too great
    ck_assert(choose("a,0.5,9999\nb,1405,100000\n", 3, -1, &style, &line));
    ck_assert_int_eq(style.serial_base, 0);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("intake: date forms");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, one_order_is_left);
    tcase_add_test(tests, doubt_refuses);
    tcase_add_test(tests, serials);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
