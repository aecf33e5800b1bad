// SPDX-License-Identifier: GPL-3.0-or-later
// Foreign text among ours. Which characters are never seen, which turn direction and which letters
// run from right to left: Unicode Character Database 15.0 (DerivedCoreProperties.txt,
// Default_Ignorable_Code_Point; PropList.txt, Bidi_Control; DerivedBidiClass.txt). How foreign text
// is isolated: Unicode Standard Annex 9, 2.4.2.
#include "base/visible.h"

#include <check.h>
#include <stdlib.h>

static void only(const char *text, const char *expected) {
    char *got = visible_only(text, -1);
    ck_assert_msg(g_strcmp0(got, expected) == 0, "'%s': '%s', not '%s'", text, got, expected);
    g_free(got);
}

START_TEST(what_nobody_sees) {
    only("ALD", NULL);
    only("Østfold, Łódź, 東京", NULL);
    only("A\xCC\x8A", NULL); // a ring above is seen
    only("AL\xE2\x80\x8B"
         "D",
         "ALD"); // zero-width space
    only("\xEF\xBB\xBF"
         "ALD ",
         "ALD");                // byte order mark, then a blank at the end
    only("ALD\xC2\xAD", "ALD"); // soft hyphen
    only("\xE2\x80\xAE"
         "DLA\xE2\x80\xAC",
         "DLA"); // right-to-left override
    only("\xE2\x81\xA7"
         "A\xE2\x81\xA9",
         "A"); // right-to-left isolate
    only("\xE2\x81\xA8"
         "A",
         "A"); // an isolate without its end
    only("\xD8\x9C"
         "A",
         "A");                      // Arabic letter mark
    only("A\xF3\xA0\x81\x81", "A"); // tag letter
    only("\xE2\x80\x8B", "");
    only("North\xC2\xA0Moor", "North Moor"); // no-break blank
    only("3:05\xE2\x80\xAFPM", "3:05 PM");   // narrow no-break blank
    only("\xE3\x80\x80"
         "A\xC2\xA0",
         "A"); // ideographic and no-break blanks at the ends
    only("\xC2\xA0", "");
    only("1234567\xC2\xA0", "1234567"); // the last bytes of a word of eight, and behind it
    only("12345678\xC2\xA0", "12345678");
    only("1234567890123456", NULL);
    only("A\xE2\x80\x8C"
         "B",
         "AB");                                         // non-joiner between Latin letters
    only("\xD9\x85\xDB\x8C\xE2\x80\x8C\xD8\xB1", NULL); // between Persian ones
    only("\xD9\x85\xE2\x80\x8C", "\xD9\x85");           // at an end
    only("\xFF\xE2\x80\x8B", NULL);                     // no UTF-8
}
END_TEST

START_TEST(what_turns) {
    static const gunichar turns[] = {0x61C,  0x200E, 0x200F, 0x202A, 0x202B,
                                     0x202C, 0x202D, 0x202E, 0x2066, 0x2067};
    for (unsigned i = 0; i < G_N_ELEMENTS(turns); i++)
        ck_assert(visible_turns(turns[i]));
    static const gunichar others[] = {'A', 0x5D0, 0x627, 0x2068, 0x2069, 0x200B, 0x2011};
    for (unsigned i = 0; i < G_N_ELEMENTS(others); i++)
        ck_assert(!visible_turns(others[i]));
}
END_TEST

START_TEST(nothing) {
    static const char *const blank[] = {"", " \t\n", "\xC2\xA0", " \xE2\x80\x8B ",
                                        "\xE2\x80\xAF\xC2\xA0"};
    for (unsigned i = 0; i < G_N_ELEMENTS(blank); i++)
        ck_assert(visible_nothing(blank[i], strlen(blank[i])));
    static const char *const seen[] = {"x", " 0", "\xC2\xA0-", "é", "\xFF", "\x01"};
    for (unsigned i = 0; i < G_N_ELEMENTS(seen); i++)
        ck_assert_msg(!visible_nothing(seen[i], strlen(seen[i])), "%u", i);
}
END_TEST

START_TEST(isolated) {
    static const char *const kept[] = {"ALD", "", "Łódź", "東京", "\xFF"};
    for (unsigned i = 0; i < G_N_ELEMENTS(kept); i++)
        ck_assert_ptr_eq(visible_isolated(kept[i]), kept[i]);
    ck_assert_str_eq(visible_isolated("\xD7\x90 7"), "\xE2\x81\xA8\xD7\x90 7\xE2\x81\xA9"); // alef
    ck_assert_str_eq(visible_isolated("Unit \xD8\xA7"),
                     "\xE2\x81\xA8Unit \xD8\xA7\xE2\x81\xA9"); // Arabic alef
    ck_assert_str_eq(visible_isolated("\xF0\x9E\xA4\x80"),
                     "\xE2\x81\xA8\xF0\x9E\xA4\x80\xE2\x81\xA9"); // Adlam
}
END_TEST

int main(void) {
    Suite *suite = suite_create("visible");
    TCase *all = tcase_create("all");
    tcase_add_test(all, what_nobody_sees);
    tcase_add_test(all, what_turns);
    tcase_add_test(all, nothing);
    tcase_add_test(all, isolated);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
