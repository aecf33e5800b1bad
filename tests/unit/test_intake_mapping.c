// SPDX-License-Identifier: GPL-3.0-or-later
// Mappings: what names a cell, and on which days; stamps in foreign forms. By the definitions of
// the README.
#include "intake/mapping.h"
#include "intake/stamp.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

static const char text[] = "source_column,source_value,field,value,from,until\n"
                           "How soon ?,P1,urgency,time-critical,,\n"
                           "How soon ?,At once,urgency,urgent,,\n"
                           "How soon ?,(any other),urgency,planned,,\n"
                           "How soon ?,(blank),urgency,,,\n"
                           "Level,1,care_level,0,,2029-12-31\n"
                           "Level,1,care_level,1,2030-01-01,\n"
                           "Notes,,,,,\n"
                           ",,,,,\n";

static const char *value(const MappingFeed *feed, const char *cell, int32_t day, bool *other) {
    const GPtrArray *rows = mapping_find(feed, cell, strlen(cell), other);
    for (guint i = 0; i < rows->len; i++)
        if (mapping_holds(rows->pdata[i], day))
            return ((const MappingRow *)rows->pdata[i])->value;
    return NULL;
}

START_TEST(values) {
    Mapping *m = mapping_parse("m.csv", text, sizeof text - 1, NULL);
    ck_assert_ptr_nonnull(m);
    const MappingColumn *soon = mapping_column(m, " how_SOON ?");
    ck_assert_ptr_nonnull(soon);
    const MappingFeed *feed = soon->feeds->pdata[0];
    bool other;
    ck_assert_str_eq(value(feed, "P1", WHEN_UNKNOWN, &other), "time-critical");
    ck_assert_str_eq(value(feed, " at-once ", WHEN_UNKNOWN, &other), "urgent");
    ck_assert(!other);
    ck_assert_str_eq(value(feed, "P9", WHEN_UNKNOWN, &other), "planned");
    ck_assert(other);
    ck_assert_str_eq(value(feed, "  ", WHEN_UNKNOWN, &other), "");
    ck_assert(!other);
    const MappingFeed *level = mapping_column(m, "Level")->feeds->pdata[0];
    ck_assert(level->dated);
    ck_assert_str_eq(value(level, "1", when_day(2029, 12, 31), &other), "0");
    ck_assert_str_eq(value(level, "1", when_day(2030, 1, 1), &other), "1");
    ck_assert(mapping_column(m, "notes")->ignored);
    ck_assert_ptr_null(mapping_column(m, "else"));
    mapping_free(m);
}
END_TEST

static int clock_of(const char *cell, bool serials) {
    int minute;
    return stamp_clock(cell, strlen(cell), serials, &minute) ? minute : -1;
}

START_TEST(clocks) {
    ck_assert_int_eq(clock_of("14:05", false), 845);
    ck_assert_int_eq(clock_of("930", false), 570);
    ck_assert_int_eq(clock_of("9.30", false), 570);
    ck_assert_int_eq(clock_of("09h30", false), 570);
    ck_assert_int_eq(clock_of("12:05 am", false), 5);
    ck_assert_int_eq(clock_of("2:05 p.m.", false), 845);
    ck_assert_int_eq(clock_of("24:00", false), 1440);
    ck_assert_int_eq(clock_of("0.625", false), 900);
    ck_assert_int_eq(clock_of("0.25", false), -1); // 00:25 or a quarter of a day
    ck_assert_int_eq(clock_of("0,25", true), 360);
    ck_assert_int_eq(clock_of("24:01", false), -1);
    ck_assert_int_eq(clock_of("13:05 pm", false), -1);
    ck_assert_int_eq(clock_of("14:5", false), -1);
}
END_TEST

static int32_t day_of(const char *cell, DateOrder order, int pivot, int base) {
    const StampStyle style = {order, pivot, base};
    Stamp s;
    int32_t day;
    if (!stamp_read(cell, strlen(cell), &s) || stamp_day(&s, &style, &day) != STAMP_FINE)
        return -1;
    return day;
}

START_TEST(days) {
    const int32_t ninth = when_day(2031, 3, 9);
    ck_assert_int_eq(day_of("09/03/2031", DATE_ORDER_DMY, -1, 1900), ninth);
    ck_assert_int_eq(day_of("3.9.2031", DATE_ORDER_MDY, -1, 1900), ninth);
    ck_assert_int_eq(day_of("31-03-09", DATE_ORDER_YMD, 70, 1900), ninth);
    ck_assert_int_eq(day_of("09-MAR-31", DATE_ORDER_UNSET, 70, 1900), ninth);
    ck_assert_int_eq(day_of("20310309", DATE_ORDER_UNSET, -1, 1900), ninth);
    ck_assert_int_eq(day_of("09/03/2031", DATE_ORDER_UNSET, -1, 1900), -1);
    ck_assert_int_eq(day_of("09/03/31", DATE_ORDER_DMY, -1, 1900), -1);
    ck_assert_int_eq(day_of("29/02/2031", DATE_ORDER_DMY, -1, 1900), -1);
    // 25569 is 1970-01-01 in the 1900 system; the 1904 system counts 1462 days fewer (common
    // knowledge of spreadsheets, no source)
    ck_assert_int_eq(day_of("25569", DATE_ORDER_UNSET, -1, 1900), 0);
    ck_assert_int_eq(day_of("24107", DATE_ORDER_UNSET, -1, 1904), 0);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("intake: mapping");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, values);
    tcase_add_test(tests, clocks);
    tcase_add_test(tests, days);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
