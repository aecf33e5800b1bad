// SPDX-License-Identifier: GPL-3.0-or-later
// Files that are written as they go: numbers, pieces, length and checksum.
#include "pack/folder.h"
#include "pack/tables.h"

#include <check.h>
#include <glib/gstdio.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

START_TEST(numbers) {
    static const struct {
        double value;
        const char *text;
    } cases[] = {{0, "0"},
                 {-0.0, "0"},
                 {NAN, ""},
                 {INFINITY, ""},
                 {197950, "197950"},
                 {-12, "-12"},
                 {0.95, "0.95"},
                 {1e-5, "1e-05"},
                 {1234567890123, "1.23456789012e+12"},
                 {5e10, "50000000000"},
                 {2.0 / 3, "0.666666666667"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        GString *out = g_string_new(NULL);
        tables_number(out, cases[i].value);
        ck_assert_str_eq(out->str, cases[i].text);
        g_string_free(out, TRUE);
    }
}
END_TEST

static void keep(gpointer to, const char *text, gsize length) {
    ck_assert_uint_le(length, 1 << 17); // pieces, however long the whole
    g_string_append_len(to, text, (gssize)length);
}

// Every row once and in order, whatever the pieces.
START_TEST(pieces) {
    enum { MANY = 20000 };
    Findings *findings = finding_list_new();
    static const char *const names[] = {"a.csv"};
    const Finding about = {.field = FIELD_COUNT, .code = "code", .message = "say \"no\", twice"};
    GString *expected = g_string_new(tables_findings_head), *got = g_string_new(NULL);
    for (guint i = 1; i <= MANY; i++) {
        Finding one = about;
        one.line = i;
        finding_add(findings, &one, NULL, 0);
        g_string_append_printf(expected, "a.csv,%u,,,note,code,,\"say \"\"no\"\", twice\"\n", i);
    }
    tables_findings(findings, names, keep, got);
    ck_assert_str_eq(got->str, expected->str);
    g_string_free(got, TRUE);
    g_string_free(expected, TRUE);
    finding_list_free(findings);
}
END_TEST

// FIPS 180-4, examples of SHA-256: "abc", and the message of two blocks, here in pieces.
START_TEST(sums) {
    static const char first[] = "abcdbcdecdefdefgefghfghighij",
                      second[] = "hijkijkljklmklmnlmnomnopnopq";
    char *place = g_dir_make_tmp("tables-XXXXXX", NULL), *text;
    char *target = g_build_filename(place, "pack", NULL);
    Folder *f = folder_begin(target, false, NULL);
    ck_assert_ptr_nonnull(f);
    FolderSum sum;
    FolderFile *file = folder_open(f, "one", true), *other = folder_open(f, "below/two", true);
    folder_add(file, "abc", 3);
    folder_add(other, first, strlen(first));
    folder_add(other, second, strlen(second));
    ck_assert(folder_close(file, &sum, NULL));
    ck_assert_str_eq(sum.sha256,
                     "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    ck_assert(folder_close(other, &sum, NULL));
    ck_assert_str_eq(sum.sha256,
                     "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    ck_assert_uint_eq(sum.bytes, strlen(first) + strlen(second));
    GError *error = NULL;
    ck_assert(!folder_close(folder_open(f, "one", false), NULL, &error)); // is there already
    ck_assert_ptr_nonnull(error);
    g_clear_error(&error);
    ck_assert(folder_publish(f, NULL));
    folder_free(f);
    char *one = g_build_filename(target, "one", NULL),
         *below = g_build_filename(target, "below", NULL),
         *two = g_build_filename(below, "two", NULL);
    ck_assert(g_file_get_contents(two, &text, NULL, NULL));
    ck_assert(g_str_has_prefix(text, first) && g_str_has_suffix(text, second));
    g_unlink(one), g_unlink(two), g_rmdir(below), g_rmdir(target), g_rmdir(place);
    g_free(one), g_free(two), g_free(below), g_free(target), g_free(place), g_free(text);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("tables");
    TCase *all = tcase_create("all");
    tcase_add_test(all, numbers);
    tcase_add_test(all, pieces);
    tcase_add_test(all, sums);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
