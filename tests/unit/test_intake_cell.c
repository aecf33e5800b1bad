// SPDX-License-Identifier: GPL-3.0-or-later
// Cells of canonical logs: what each form means, and what no field can hold. Forms of dates and
// times are those of ISO 8601; clock changes those of the IANA zone Europe/London (last Sundays of
// March and October, at 01:00 UTC: 30 March and 26 October 2031).
#include "intake.h"

#include <stdlib.h>

// Reads one record whose field has that cell and says what came of it: the value, and the codes of
// findings after it.
static char *cell_in(FieldId f, const char *cell, const char *ini) {
    GString *text = g_string_new(NULL);
    const bool sender = f == FIELD_sending_unit, date = f == FIELD_transfer_date;
    g_string_append_printf(text, "%s%s%s\n", field_table[f].name, sender ? "" : ",sending_unit",
                           date ? "" : ",transfer_date");
    g_string_append_printf(text, "\"%s\"%s%s\n", cell, sender ? "" : ",A",
                           date ? "" : ",2031-01-02");
    Reading *r = intake_read(text->str, text->len, ini, 1, 0);
    ck_assert_msg(r->error == NULL, "%s: %s", cell, r->error ? r->error->message : "");
    GString *said = g_string_new(NULL);
    if (r->t->n == 1) {
        char *value = intake_value(r->t, f, 0);
        g_string_append(said, value);
        g_free(value);
    } else
        g_string_append(said, "aside");
    for (guint i = 0; i < r->findings->findings->len; i++) {
        const Finding *about = &g_array_index(r->findings->findings, Finding, i);
        if (about->severity != SEVERITY_NOTE && about->severity != SEVERITY_SEVERE)
            g_string_append_printf(said, " %s", about->code);
    }
    intake_free(r);
    g_string_free(text, TRUE);
    return g_string_free(said, FALSE);
}

static void is_in(FieldId f, const char *cell, const char *ini, const char *expected) {
    char *said = cell_in(f, cell, ini);
    ck_assert_msg(strcmp(said, expected) == 0, "%s '%s': '%s', not '%s'", field_table[f].name, cell,
                  said, expected);
    g_free(said);
}

static void is(FieldId f, const char *cell, const char *expected) {
    is_in(f, cell, NULL, expected);
}

START_TEST(codes) {
    is(FIELD_urgency, "time-critical", "time-critical");
    is(FIELD_urgency, "  Time_Critical ", "time-critical");
    is(FIELD_urgency, "TIME CRITICAL", "time-critical");
    is(FIELD_urgency, "timecritical", " code-unknown");
    is(FIELD_urgency, "", "");
    is(FIELD_ventilated, "yes", "yes");
    is(FIELD_ventilated, "not-needed", " code-unknown");
    is(FIELD_capnography, "not needed", "not-needed");
    is(FIELD_care_level, "3", "3");
    is(FIELD_care_level, "4", " code-unknown");
    is(FIELD_age_band, "75-89", "75-89");
    const char *const years[][2] = {{"0", "0-15"},   {"15", "0-15"},  {"16", "16-39"},
                                    {"39", "16-39"}, {"40", "40-59"}, {"59", "40-59"},
                                    {"60", "60-74"}, {"74", "60-74"}, {"75", "75-89"},
                                    {"89", "75-89"}, {"90+", "90+"}};
    for (size_t i = 0; i < G_N_ELEMENTS(years); i++)
        is(FIELD_age_band, years[i][0], years[i][1]);
    is(FIELD_age_band, "999", " code-unknown");
    is(FIELD_age_band, "-1", " code-unknown");
    is(FIELD_age_band, "4.5", " code-unknown");
}
END_TEST

START_TEST(units_and_ids) {
    is(FIELD_receiving_unit, "  Unit B\t", "Unit B");
    is(FIELD_receiving_unit, "b", "b"); // case is kept
    is(FIELD_receiving_unit, "All", " unit-all");
    is(FIELD_receiving_unit, " Unknown ", " unit-unknown");
    is(FIELD_receiving_unit, "unknown unit", "unknown unit");
    is(FIELD_receiving_unit, "allB", "allB");
    char longest[257];
    memset(longest, 'x', 256);
    longest[256] = 0;
    is(FIELD_receiving_unit, longest, " unit-too-long");
    longest[255] = 0;
    is(FIELD_receiving_unit, longest, longest);
    longest[65] = 0;
    is(FIELD_transfer_id, longest, " id-too-long");
    longest[64] = 0;
    is(FIELD_transfer_id, longest, "@2");
    is(FIELD_transfer_id, " ", "");
    is(FIELD_transfer_id, "4.01E+09", " id-exponent");
    is(FIELD_transfer_id, "4E+09", " id-exponent");
    is(FIELD_episode_id, "4,01e+12", " id-exponent");
    is(FIELD_transfer_id, "4E09", "@2"); // may well be a pseudonym
    is(FIELD_transfer_id, "4.01E+09a", "@2");
    is(FIELD_transfer_id, "14.01E+09", "@2");
}
END_TEST

START_TEST(days) {
    is(FIELD_transfer_date, "2031-03-09", "2031-03-09");
    is(FIELD_transfer_date, "2032-02-29", "2032-02-29");
    is(FIELD_transfer_date, "2031-02-29", "aside date-impossible");
    is(FIELD_transfer_date, "2031-13-01", "aside date-impossible");
    is(FIELD_transfer_date, "2031-00-10", "aside date-impossible");
}
END_TEST

START_TEST(times) {
    is(FIELD_departed_at, "2031-03-09T14:05", "2031-03-09T14:05");
    is(FIELD_departed_at, "2031-03-09 14:05", "2031-03-09T14:05");
    is(FIELD_departed_at, "2031-03-09t14:05:59", "2031-03-09T14:05"); // seconds are cut
    is(FIELD_departed_at, "2031-03-09T14:05:59.999", "2031-03-09T14:05");
    is(FIELD_departed_at, "2031-03-09T14:05Z", "2031-03-09T14:05");
    is(FIELD_departed_at, "2031-03-09T14:05+02:00", "2031-03-09T12:05");
    is(FIELD_departed_at, "2031-03-09T14:05-0330", "2031-03-09T17:35");
    is(FIELD_departed_at, "2031-12-31T24:00", "2032-01-01T00:00 time-24");
    is(FIELD_departed_at, "2031-12-31T24:01", " time-impossible");
    is(FIELD_departed_at, "2031-03-09T14:60", " time-impossible");
    is(FIELD_departed_at, "2031-02-30T14:00", " time-impossible");
    is(FIELD_departed_at, "1969-12-31T14:00", " time-impossible");
    // spreadsheet serials, base 1900: 25569 is 1970-01-01 (common practice), .5 is noon, and times
    // are rounded to the nearest minute: 0.58680 of a day is 844.99 minutes
    is(FIELD_departed_at, "25569.5", "1970-01-01T12:00");
    is(FIELD_departed_at, "47916.58680", "2031-03-09T14:05");
}
END_TEST

START_TEST(clock_changes) {
    const char *london = "[network]\ntimezone=Europe/London\n";
    is_in(FIELD_departed_at, "2031-07-01T14:05", london, "2031-07-01T13:05");
    is_in(FIELD_departed_at, "2031-01-01T14:05", london, "2031-01-01T14:05");
    is_in(FIELD_departed_at, "2031-03-30T00:59", london, "2031-03-30T00:59");
    is_in(FIELD_departed_at, "2031-03-30T01:30", london, " time-skipped");
    is_in(FIELD_departed_at, "2031-03-30T02:00", london, "2031-03-30T01:00");
    is_in(FIELD_departed_at, "2031-10-26T01:30", london, " time-twice");
    is_in(FIELD_departed_at, "2031-10-26T01:30+01:00", london, "2031-10-26T00:30");
    is_in(FIELD_departed_at, "2031-10-26T02:00", london, "2031-10-26T02:00");
}
END_TEST

START_TEST(received) {
    const char *ini = "[log *]\nreceived=2031-03-31\n";
    is_in(FIELD_departed_at, "2031-03-31T23:59", ini, "2031-03-31T23:59");
    is_in(FIELD_departed_at, "2031-04-01T00:00", ini, " after-received");
    is_in(FIELD_transfer_date, "2031-04-01", ini, "aside after-received");
}
END_TEST

START_TEST(events) {
    is(FIELD_events, "none", "none");
    is(FIELD_events, " None ", "none");
    is(FIELD_events, "airway:low;Line or tube:near miss; delay",
       "airway:low;line-or-tube:near-miss;delay");
    is(FIELD_events, "airway:terrible", " events-unknown");
    is(FIELD_events, "airway;none", " events-contradict");
    is(FIELD_events, "airway;;delay", " events-unknown");
    is_in(FIELD_events, "airway:low|delay", "[log *]\nlist_separator=|\n", "airway:low;delay");
}
END_TEST

START_TEST(numbers) {
    is(FIELD_distance_km, "12.5", "12.5");
    is(FIELD_distance_km, "0", "0");
    is(FIELD_distance_km, "20000", "20000");
    is(FIELD_distance_km, "20000.1", " number-impossible");
    is(FIELD_distance_km, "-1", " number-impossible");
    is(FIELD_distance_km, "nan", " number-impossible");
    is(FIELD_distance_km, "0x10", " number-impossible");
    is(FIELD_distance_km, "12 km", " number-impossible");
    is_in(FIELD_distance_km, "12,5", "[log *]\ndecimal=comma\n", "12.5");
    is_in(FIELD_distance_km, "12,5", "[log *]\ndecimal=point\n", " number-impossible");
    is_in(FIELD_distance_km, "12.5", "[log *]\ndecimal=comma\n", " number-impossible");
}
END_TEST

int main(void) {
    Suite *suite = suite_create("intake: cells");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, codes);
    tcase_add_test(tests, units_and_ids);
    tcase_add_test(tests, days);
    tcase_add_test(tests, times);
    tcase_add_test(tests, clock_changes);
    tcase_add_test(tests, received);
    tcase_add_test(tests, events);
    tcase_add_test(tests, numbers);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
