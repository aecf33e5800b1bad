// SPDX-License-Identifier: GPL-3.0-or-later
// The identifier guard: forms it must know, look-alikes it must let pass, columns judged as a
// whole.
#include "intake/guard.h"
#include "intake/mask.h"
#include "intake/show.h"
#include "intake/vocabulary.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static GuardKind cell(const char *text) {
    return guard_cell(text, strlen(text));
}

static bool passes(const char *text, bool *ten) {
    return guard_check_digit(text, strlen(text), ten);
}

START_TEST(check_digits) {
    bool ten;
    // ISO 2108's ISBN-10 has the same weights 10 to 2 and modulus 11: 0-306-40615-2 is its common
    // printed example (from memory)
    ck_assert(passes("0306406152", &ten) && ten);
    ck_assert(passes("030 640 6152", &ten) && passes("030-640-6152", &ten));
    ck_assert(!passes("0306406153", &ten) && ten);
    // by hand: 208 = 18 * 11 + 10, so 1; and 1..9 reversed sums to 330 = 30 * 11, so 11, written 0
    ck_assert(passes("1234567881", &ten));
    ck_assert(passes("9876543210", &ten));
    ck_assert(!passes("123456789", &ten) && !ten);
    ck_assert(!passes("12345678810", &ten) && !ten);
    ck_assert(!passes("12345A7881", &ten) && !ten);
}
END_TEST

START_TEST(cells_that_identify) {
    ck_assert_int_eq(cell("a.b@example.org"), GUARD_EMAIL);
    ck_assert_int_eq(cell("write to x@example.com, please"), GUARD_EMAIL);
    ck_assert_int_eq(cell("+44 20 7946 0018"), GUARD_PHONE); // a number kept free for fiction
    ck_assert_int_eq(cell("020 7946 0018"), GUARD_PHONE);
    ck_assert_int_eq(cell("ring 01632 960 001 first"), GUARD_PHONE);
    ck_assert_int_eq(cell("ZZ99 3WZ"), GUARD_POSTCODE); // no such place
    ck_assert_int_eq(cell("lives in ZZ9 9ZZ"), GUARD_POSTCODE);
    ck_assert_int_eq(cell("Dr Oakley"), GUARD_NAME);
    ck_assert_int_eq(cell("seen by Mr. Elm"), GUARD_NAME);
    ck_assert_int_eq(cell("aged 94"), GUARD_AGE);
    ck_assert_int_eq(cell("a 101-year-old"), GUARD_AGE);
    ck_assert_int_eq(cell("93 yrs, frail"), GUARD_AGE);
}
END_TEST

START_TEST(cells_that_do_not) {
    static const char *const harmless[] = {
        "",
        "-",
        "P-001-2031",
        "2031-03-09T14:05",
        "09/03/2031 14:05",
        "09-03-2031 14:05",
        "01.04.2031",
        "2031-03-09 14:05:00+01:00",
        "0001234567",
        "000123-45",
        "T00017",
        "12,5",
        "desaturation on the bridge",
        "left at 94 km",
        "94",
        "90+",
        "89 years",
        "Great Oak",
        "Driven",
        "Dr",
        "Mrs",
        "no vehicle",
        "AB12",
        "B12 and K1",
        "a@b",
        "00:45",
        "004-17-2",
        "ward 3 to ward 4",
    };
    for (size_t i = 0; i < sizeof harmless / sizeof *harmless; i++)
        ck_assert_msg(cell(harmless[i]) == GUARD_NONE, "'%s' taken for %s", harmless[i],
                      guard_word(cell(harmless[i])));
}
END_TEST

START_TEST(headings) {
    static const struct {
        const char *heading;
        GuardKind kind;
    } cases[] = {
        {"DOB", GUARD_BIRTH},          {"Patient's date of birth", GUARD_BIRTH},
        {"dateOfBirth", GUARD_BIRTH},  {"Patient_Surname", GUARD_NAME},
        {"E-mail", GUARD_EMAIL},       {"Hospital No.", GUARD_NUMBER},
        {"Post code", GUARD_POSTCODE}, {"Contact telephone", GUARD_PHONE},
        {"Name of unit", GUARD_NONE},  {"newborn", GUARD_NONE},
        {"transfer_id", GUARD_NONE},   {"age_band", GUARD_NONE},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        ck_assert_int_eq(guard_heading(cases[i].heading, strlen(cases[i].heading)), cases[i].kind);
}
END_TEST

// A ten-digit number from its first nine digits; right: with the check digit that they ask for.
static void number(char *out, unsigned nine, bool right) {
    bool ten;
    for (unsigned check = 0; check < 10; check++) {
        snprintf(out, 16, "%09u%u", nine, check);
        if (passes(out, &ten) == right)
            return;
    }
    out[0] = 0; // nine digits that no check digit is given out for
}

static void add(GuardColumn *c, const char *text, uint32_t line) {
    const GuardSight sight = guard_look(text, strlen(text));
    guard_add(c, &sight, line);
}

static GuardKind column_of(unsigned n, unsigned right, GuardColumn *c) {
    char text[16];
    uint32_t line = 0;
    for (unsigned i = 0, given = 0; given < n; i++) {
        number(text, 400000017 + 7919 * i, given < right);
        if (*text)
            add(c, text, 2 + given++);
    }
    return guard_verdict(c, &line);
}

START_TEST(columns_of_numbers) {
    // random numbers pass one time in eleven: such a column is no identifier
    GuardColumn random = {0}, people = {0}, mixed = {0}, few = {0};
    ck_assert_int_eq(column_of(1100, 100, &random), GUARD_NONE);
    ck_assert_int_eq(column_of(50, 50, &people), GUARD_NUMBER);
    ck_assert_int_eq(column_of(100, 40, &mixed), GUARD_NUMBER);
    ck_assert_int_eq(column_of(2, 2, &few), GUARD_NONE); // 1 in 121 by chance
}
END_TEST

// A column of n unit codes, of which the first ones are what text says; the rest are words.
static GuardKind units(const char *text, unsigned first, unsigned n) {
    GuardColumn c = {0};
    uint32_t line;
    for (unsigned i = 0; i < n; i++) {
        const char *cell = i < first ? text : "OAK";
        GuardSight sight = guard_look(cell, strlen(cell));
        sight.stray = !guard_may_show(cell, strlen(cell));
        guard_add(&c, &sight, i + 2);
    }
    return guard_verdict(&c, &line);
}

START_TEST(columns_of_units) {
    ck_assert_int_eq(units("1234567881", 1, 9), GUARD_NUMBER); // outputs would show it
    ck_assert_int_eq(units("Ward 123 456 7881", 1, 9), GUARD_NUMBER);
    ck_assert_int_eq(units("1234567882", 1, 9), GUARD_NONE); // wrong check digit
    ck_assert_int_eq(units("1234567881", 2, 2), GUARD_NONE); // numbers all along: chance, till 3
    ck_assert_int_eq(units("1234567881", 3, 3), GUARD_NUMBER);
}
END_TEST

static bool shows(GHashTable *words, FieldId f, const char *text) {
    return show_found(f, text, strlen(text), words);
}

START_TEST(what_findings_show) {
    GHashTable *words = vocabulary_words();
    ck_assert(shows(words, FIELD_urgency, "soonish"));
    ck_assert(shows(words, FIELD_escort_grade, "Senior Registrar"));
    ck_assert(!shows(words, FIELD_escort_grade, "Rowan Oakley")); // perhaps a person
    ck_assert(!shows(words, FIELD_urgency, "1234567881"));
    ck_assert(!shows(words, FIELD_urgency, "03/04/1944")); // perhaps a birth
    ck_assert(!shows(words, FIELD_urgency, "3.4.44") &&
              !shows(words, FIELD_requested_at, "3/4/44"));
    ck_assert(!shows(words, FIELD_requested_at, "1944-04-03T10:00"));
    ck_assert(shows(words, FIELD_requested_at, "13/14/31 10:00"));
    ck_assert(shows(words, FIELD_distance_km, "123.4.5") && shows(words, FIELD_urgency, "2.1"));
    ck_assert(shows(words, FIELD_requested_at, "2031-02-30T10:00"));
    ck_assert(shows(words, FIELD_age_band, "999") && shows(words, FIELD_age_band, "8 months"));
    ck_assert(!shows(words, FIELD_age_band, "94y") && !shows(words, FIELD_age_band, "94.5"));
    ck_assert(!shows(words, FIELD_transfer_id, "P1")); // pseudonyms and units are never shown
    ck_assert(!shows(words, FIELD_sending_unit, "OAK"));
    g_hash_table_unref(words);
}
END_TEST

START_TEST(columns_of_words_and_dates) {
    GuardColumn c = {0}, births = {0}, pseudonyms = {0}, later = {0};
    uint32_t line = 0;
    static const char *const names[] = {"SMITH, John", "Jane O'Neill", "Zo\xC3\xAB Brown"};
    for (uint32_t i = 0; i < 3; i++)
        add(&c, names[i], 5 + i);
    ck_assert_int_eq(guard_verdict(&c, &line), GUARD_NAME);
    ck_assert_uint_eq(line, 5);
    static const char *const dates[] = {"AB 01/02/1931", "1954-11-30", "3.4.1988", "12-12-1970",
                                        "01/01/2001"};
    for (uint32_t i = 0; i < 5; i++)
        add(&births, dates[i], 9 + i);
    ck_assert_int_eq(guard_verdict(&births, &line), GUARD_BIRTH);
    GuardColumn shorter = {0}, near = {0};
    static const char *const with_two[] = {"3/4/51", "13.4.88", "04/13/60", "1/2/03", "30/11/75"};
    for (uint32_t i = 0; i < 5; i++) {
        add(&shorter, with_two[i], 9 + i);
        add(&near, i % 2 ? "3/4/31" : "13/4/30", 9 + i); // as days of transfers lie
    }
    ck_assert_int_eq(guard_verdict(&shorter, &line), GUARD_BIRTH);
    ck_assert_uint_eq(line, 9);
    ck_assert_int_eq(guard_verdict(&near, &line), GUARD_NONE);
    for (uint32_t i = 0; i < 100; i++) {
        char text[32];
        snprintf(text, sizeof text, "2031-%02u-%02u/%u", 1 + i % 12, 1 + i % 28, i);
        add(&pseudonyms, text, i);
    }
    ck_assert_int_eq(guard_verdict(&pseudonyms, &line), GUARD_NONE);
    ck_assert(!guard_may_show("a@example.org", 13) && !guard_may_show("1234567881", 10));
    ck_assert(!guard_may_show("see 123 456 7881, left", 22));
    ck_assert(guard_may_show("2031-03-09 14:05", 16) && guard_may_show("12345678810", 11));
    ck_assert(guard_may_show("1234567882", 10) && guard_may_show("soonish", 7));
    // tallies of pieces, merged, say the same, and name the first line
    add(&later, "a@example.org", 7);
    guard_merge(&pseudonyms, &later, 70);
    ck_assert_int_eq(guard_verdict(&pseudonyms, &line), GUARD_EMAIL);
    ck_assert_uint_eq(line, 77);
}
END_TEST

static void copied(const char *row, const char *wanted, const uint8_t columns[3], bool record) {
    GHashTable *words = vocabulary_words();
    vocabulary_add_words(words, "North Moor");
    char *got = mask_row(row, strlen(row), ',', columns, 3, words, record);
    ck_assert_str_eq(got, wanted);
    g_free(got);
    g_hash_table_unref(words);
}

static void masked(const char *row, const char *wanted, const uint8_t columns[3]) {
    copied(row, wanted, columns, false);
}

START_TEST(rows_are_copied_word_for_word_but) {
    const uint8_t plain[3] = {0}, skipped[3] = {MASK_SHOWN, MASK_UNREAD, MASK_AGE};
    masked("a, \"b,\"\"c\" ,d\r\n", "a, \"b,\"\"c\" ,d", plain);
    masked("1234567881,\"x@example.org\",3", "[masked],[masked],3", plain);
    masked("Total,,12", "Total,,12", plain);
    masked("a,secret,91", "a,[not read],[masked]", skipped);
    masked("a,secret,89", "a,[not read],89", skipped);
    masked(",,", ",[not read],", skipped);
    // one cell too few or too many: the unread one may be its neighbour
    masked("secret,91", "[not read],[not read]", skipped);
    masked("a,b,secret,91", "a,[not read],[not read],[masked]", skipped);
    // a broken quote: whatever follows may be of the unread column
    masked("a,\"secret,91", "[not read],[not read]", skipped);
    masked("a\"b,secret\",91,x,\"y", "[not read],[not read],[not read],[not read]", skipped);
    masked("", "", plain);
}
END_TEST

// Invented persons in rows that are no records, so that nothing says what a cell is.
START_TEST(free_text_is_copied_but_for_persons) {
    const uint8_t plain[3] = {0};
    static const char *const hidden[] = {"Rowan Oakley",
                                         "OAKLEY, ROWAN",
                                         "kept by R. Oakley, nurse",
                                         "R Oakley",
                                         "patient: Oakley",
                                         "seen by Oakley",
                                         "Oakley R",
                                         "Zoë Núñez",
                                         "Oakley 3/4/51",
                                         "born 3.4.2001",
                                         "DOB 03/04/51",
                                         "see 1951-04-03",
                                         "07700900123",
                                         "Surname missing here",
                                         "Ann-Marie O'Oakley too",
                                         "AB12CD",
                                         "ask Mrs Oakley"};
    for (size_t i = 0; i < G_N_ELEMENTS(hidden); i++) {
        char *row = g_strdup_printf("x,\"%s\",3", hidden[i]);
        masked(row, "x,[masked],3", plain);
        g_free(row);
    }
    static const char *const shown[] = {"kept by hand",      "Very Urgent", "Intensive Care",
                                        "North Moor",        "Grand total", "2031-03-09T14:05",
                                        "203103091405",      "R3",          "OAK",
                                        "Source: ward book", "12.5",        "west wing of OAK",
                                        "09/03/31",          "BIR-00001"};
    for (size_t i = 0; i < G_N_ELEMENTS(shown); i++)
        masked(shown[i], shown[i], plain);
}
END_TEST

// Units of a record may be called as persons are, so its unit column is copied, no other.
START_TEST(units_of_records_are_copied) {
    const uint8_t columns[3] = {MASK_UNIT, MASK_SHOWN, MASK_SHOWN};
    copied("South Hill,South Hill,x", "South Hill,[masked],x", columns, true);
    copied("South Hill,South Hill,x", "[masked],[masked],x", columns, false);
    copied("South Hill,x", "[masked],x", columns, true);
    copied("Dr Oakley,1234567881,x", "[masked],[masked],x", columns, true);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("guard");
    TCase *forms = tcase_create("forms"), *columns = tcase_create("columns");
    tcase_add_test(forms, check_digits);
    tcase_add_test(forms, cells_that_identify);
    tcase_add_test(forms, cells_that_do_not);
    tcase_add_test(forms, headings);
    tcase_add_test(columns, columns_of_numbers);
    tcase_add_test(columns, columns_of_units);
    tcase_add_test(columns, what_findings_show);
    tcase_add_test(columns, columns_of_words_and_dates);
    tcase_add_test(columns, free_text_is_copied_but_for_persons);
    tcase_add_test(columns, units_of_records_are_copied);
    tcase_add_test(columns, rows_are_copied_word_for_word_but);
    suite_add_tcase(suite, forms);
    suite_add_tcase(suite, columns);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
