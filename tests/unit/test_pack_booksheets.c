// SPDX-License-Identifier: GPL-3.0-or-later
// The sheets of the sample data's estimates: a sheet that is full goes on in another, and no row is
// lost or doubled. Texts that a cell can't hold, and the lines that a wrapped text takes.
#include "pack/booksheets.h"

#include "command/command.h"
#include "command/session.h"
#include "pack/booktext.h"

#include <check.h>
#include <glib/gstdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unzip.h>

enum { MOST = 500, QUANTILES = 4 };

static Session session;
static Estimates *table;
static char *folder;

static void load(void) {
    char logs_of_sample[] = "sample-data/logs", network[] = "sample-data/network";
    char *logs[] = {logs_of_sample, NULL};
    const SessionOptions o = {
        .network_dir = network, .logs = logs, .confidence = 0.95, .threads = 1};
    GError *error = NULL;
    ck_assert_int_eq(session_load(&o, &session, &error), COMMAND_DONE);
    ck_assert_int_eq(session_read(&session, &error), COMMAND_DONE);
    table = estimate_all(session.t, session.network, session.catalogue, &session.settings);
    folder = g_dir_make_tmp("booksheets-XXXXXX", NULL);
    ck_assert_ptr_nonnull(folder);
}

static void unload(void) {
    g_rmdir(folder);
    g_free(folder);
    estimate_free(table);
    session_clear(&session);
}

static char *make_book(guint most) {
    const Source s = {.e = table, .network = session.network};
    char *path = g_build_filename(folder, "read.xlsx", NULL);
    gsize length;
    Bookframe *f = bookframe_begin(folder, NULL);
    booksheets_add(f, &s, most);
    char *bytes = bookframe_end(f, 2, &length, NULL);
    ck_assert_ptr_nonnull(bytes);
    ck_assert(g_file_set_contents(path, bytes, (gssize)length, NULL));
    g_free(bytes);
    return path;
}

// Where no file can be opened any more, the book says so, instead of the program ending.
START_TEST(no_file_for_a_sheet) {
    const Source s = {.e = table, .network = session.network};
    GError *error = NULL;
    gsize length;
    struct rlimit limit, none = {0, 0};
    Bookframe *f = bookframe_begin(folder, NULL);
    ck_assert_int_eq(getrlimit(RLIMIT_NOFILE, &limit), 0);
    none.rlim_max = limit.rlim_max;
    ck_assert_int_eq(setrlimit(RLIMIT_NOFILE, &none), 0);
    booksheets_add(f, &s, 1000);
    ck_assert_int_eq(setrlimit(RLIMIT_NOFILE, &limit), 0);
    ck_assert_ptr_null(bookframe_end(f, 2, &length, &error));
    ck_assert(g_error_matches(error, G_FILE_ERROR, G_FILE_ERROR_MFILE));
    g_error_free(error);
}
END_TEST

// Rows of the open part below its head.
static guint count_rows(unzFile zip, ZPOS64_T size) {
    char *xml = g_malloc0(size + 1);
    guint rows = 0;
    ck_assert_int_eq(unzOpenCurrentFile(zip), UNZ_OK);
    ck_assert_int_eq(unzReadCurrentFile(zip, xml, (unsigned)size), (int)size);
    ck_assert_int_eq(unzCloseCurrentFile(zip), UNZ_OK);
    for (const char *p = xml; (p = strstr(p, "<row ")); p++)
        rows++;
    g_free(xml);
    ck_assert_uint_ge(rows, 1);
    return rows - 1;
}

// Sheets of the workbook, its rows in all, and of the longest sheet.
static void count(const char *path, guint *sheets, guint *all, guint *longest) {
    unzFile zip = unzOpen64(path);
    *sheets = *all = *longest = 0;
    ck_assert_ptr_nonnull(zip);
    for (int next = unzGoToFirstFile(zip); next == UNZ_OK; next = unzGoToNextFile(zip)) {
        char name[200];
        unz_file_info64 info;
        ck_assert_int_eq(unzGetCurrentFileInfo64(zip, &info, name, sizeof name, NULL, 0, NULL, 0),
                         UNZ_OK);
        if (!g_str_has_prefix(name, "xl/worksheets/sheet"))
            continue;
        const guint rows = count_rows(zip, info.uncompressed_size);
        ++*sheets;
        *all += rows;
        *longest = MAX(*longest, rows);
    }
    unzClose(zip);
}

START_TEST(full_sheets_go_on) {
    guint expected = 0, sheets, more_sheets, rows, longest;
    for (guint r = 0; r < table->rows->len; r++) {
        const Estimate *row = &g_array_index(table->rows, Estimate, r);
        const Indicator *i = table->catalogue->pdata[row->indicator];
        expected += i->measure != MEASURE_QUANTILE || row->quantile == 0;
    }
    char *path = make_book(LXW_ROW_MAX - 1);
    count(path, &sheets, &rows, &longest);
    ck_assert_uint_eq(rows, expected);
    ck_assert_uint_gt(longest, MOST);
    g_free(path);
    path = make_book(MOST);
    count(path, &more_sheets, &rows, &longest);
    ck_assert_uint_eq(rows, expected);
    ck_assert_uint_eq(longest, MOST);
    ck_assert_uint_gt(more_sheets, expected / MOST);
    ck_assert_uint_lt(more_sheets, expected / MOST + sheets + 1); // at most the last ones not full
    g_unlink(path);
    g_free(path);
}
END_TEST

// XML 1.0, production 2: no control characters but tab, line feed and carriage return, no U+FFFE.
// A cell holds 32,767 characters (spreadsheet programs' own limit; libxlsxwriter refuses more).
START_TEST(texts_that_are_no_good) {
    char *made;
    ck_assert_str_eq(booktext_good("plain", &made), "plain");
    ck_assert_ptr_null(made);
    ck_assert_str_eq(booktext_good("a\x01"
                                   "b\nc\xFF",
                                   &made),
                     "a b\nc\xEF\xBF\xBD");
    g_free(made);
    ck_assert_str_eq(booktext_good("x\xEF\xBF\xBEy", &made), "x\xEF\xBF\xBDy");
    g_free(made);
    char *endless = g_strnfill(40000, 'x');
    ck_assert_uint_eq(strlen(booktext_good(endless, &made)), 32767);
    g_free(made);
    g_free(endless);
}
END_TEST

// Counted by hand.
START_TEST(lines_of_wrapped_texts) {
    ck_assert_uint_eq(bookframe_lines("", 10), 1);
    ck_assert_uint_eq(bookframe_lines("ten to go.", 10), 1);
    ck_assert_uint_eq(bookframe_lines("eleven here", 10), 2);
    ck_assert_uint_eq(bookframe_lines("one two three four", 9), 3); // one two, three, four
    ck_assert_uint_eq(bookframe_lines("abcdefghijklmnopqrstuvwxyz", 10), 3);
    ck_assert_uint_eq(bookframe_lines("a abcdefghijklmnopqrstuvwxyz", 10), 4);
    ck_assert_uint_eq(bookframe_lines("\xC3\xA9\xC3\xA9\xC3\xA9 \xC3\xA9\xC3\xA9\xC3\xA9", 7), 1);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("booksheets");
    TCase *all = tcase_create("all");
    tcase_add_checked_fixture(all, load, unload);
    tcase_set_timeout(all, 120);
    tcase_add_test(all, full_sheets_go_on);
    tcase_add_test(all, texts_that_are_no_good);
    tcase_add_test(all, no_file_for_a_sheet);
    tcase_add_test(all, lines_of_wrapped_texts);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
