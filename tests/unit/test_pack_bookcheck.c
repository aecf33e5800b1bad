// SPDX-License-Identifier: GPL-3.0-or-later
// Workbooks that are whole, and ones that are not: cut, altered, with less in them than was put
// there, or written to a disk that took only the start of a file.
#include "pack/bookcheck.h"

#include <check.h>
#include <glib/gstdio.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <xlsxwriter.h>

enum { ROWS = 3000, PIECE = 7 };

static char *folder;

static void make_folder(void) {
    folder = g_dir_make_tmp("bookcheck-XXXXXX", NULL);
    ck_assert_ptr_nonnull(folder);
}

static void remove_folder(void) {
    g_rmdir(folder);
    g_free(folder);
}

// A workbook of ROWS rows, a text and a number each; what was put into it comes back in put.
static lxw_error make_book(const char *path, BookcheckSum *put) {
    static const char text[] = "less < more & \xC3\xA9"; // 16 bytes, two of them spelt as entities
    lxw_workbook_options options = {.constant_memory = LXW_TRUE, .tmpdir = folder};
    lxw_workbook *book = workbook_new_opt(path, &options);
    lxw_worksheet *sheet = workbook_add_worksheet(book, "Rows");
    for (lxw_row_t r = 0; r < ROWS; r++) {
        worksheet_write_string(sheet, r, 0, text, NULL);
        worksheet_write_number(sheet, r, 1, r / 7.0, NULL);
    }
    *put = (BookcheckSum){.cells = (gsize)2 * ROWS, .text = (gsize)16 * ROWS};
    return workbook_close(book);
}

static bool is_whole(const char *path, const BookcheckSum *put) {
    GError *error = NULL;
    const bool good = bookcheck_whole(path, put, 2, &error);
    ck_assert(good == !error);
    g_clear_error(&error);
    return good;
}

START_TEST(as_much_as_was_put) {
    char *path = g_build_filename(folder, "book.xlsx", NULL);
    BookcheckSum put;
    ck_assert_int_eq(make_book(path, &put), LXW_NO_ERROR);
    ck_assert(is_whole(path, &put));
    put.cells++;
    ck_assert(!is_whole(path, &put));
    put.cells--, put.text++;
    ck_assert(!is_whole(path, &put));
    g_unlink(path);
    ck_assert(!is_whole(path, &put)); // no such file
    g_free(path);
}
END_TEST

START_TEST(cut_or_altered) {
    char *path = g_build_filename(folder, "book.xlsx", NULL), *text;
    gsize length;
    BookcheckSum put;
    ck_assert_int_eq(make_book(path, &put), LXW_NO_ERROR);
    ck_assert(g_file_get_contents(path, &text, &length, NULL));
    for (gsize i = 1; i < PIECE; i++) {
        const gsize at = length * i / PIECE;
        ck_assert(g_file_set_contents(path, text, (gssize)at, NULL));
        ck_assert(!is_whole(path, &put));
    }
    const gsize sheet = length / 2; // the one sheet takes most of the file
    text[sheet] = (char)~text[sheet];
    ck_assert(g_file_set_contents(path, text, (gssize)length, NULL));
    ck_assert(!is_whole(path, &put));
    g_unlink(path);
    g_free(text);
    g_free(path);
}
END_TEST

// The library may report nothing: that is why what it wrote is read back.
START_TEST(disk_that_takes_the_start_of_a_file) {
    char *path = g_build_filename(folder, "book.xlsx", NULL);
    BookcheckSum put;
    struct rlimit before;
    ck_assert_int_eq(getrlimit(RLIMIT_FSIZE, &before), 0);
    const struct rlimit small = {100000,
                                 before.rlim_max}; // the sheet's XML is longer, the file not
    signal(SIGXFSZ, SIG_IGN);
    ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &small), 0);
    const lxw_error said = make_book(path, &put);
    ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &before), 0);
    signal(SIGXFSZ, SIG_DFL);
    ck_assert(said != LXW_NO_ERROR || !is_whole(path, &put));
    g_unlink(path);
    g_free(path);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("bookcheck");
    TCase *all = tcase_create("all");
    tcase_add_checked_fixture(all, make_folder, remove_folder);
    tcase_add_test(all, as_much_as_was_put);
    tcase_add_test(all, cut_or_altered);
    tcase_add_test(all, disk_that_takes_the_start_of_a_file);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
