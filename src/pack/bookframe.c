// SPDX-License-Identifier: GPL-3.0-or-later
// libxlsxwriter takes NaN and broken UTF-8 without a word, so both are kept from it here; and it
// does not say when a write to one of its files on the way failed.
#include "pack/bookframe.h"

#include "base/decimal.h"
#include "pack/booktext.h"
#include "pack/words.h"

#include <errno.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static void formats(Bookframe *f) {
    static const char *const number[BOOKFRAME_FORMATS] = {
        [BOOKFRAME_COUNT] = "#,##0",
        [BOOKFRAME_SHARE] = "[=0]0%;[<0.00995]0.00%;0.0%",
        [BOOKFRAME_MINUTES] = "#,##0\" min\"",
        [BOOKFRAME_HOURS] = "[<1000]0.0\" h\";#,##0\" h\"",
        [BOOKFRAME_RATE] = "#,##0.00",
        [BOOKFRAME_RATIO] = "0.00",
        [BOOKFRAME_CHANCE] = "[<0.001]\"below 0.001\";0.000"};
    for (int k = 0; k < BOOKFRAME_FORMATS; k++) {
        f->format[k] = workbook_add_format(f->book);
        format_set_num_format(f->format[k], number[k]);
        format_set_align(f->format[k], LXW_ALIGN_VERTICAL_TOP); // as the texts beside them
    }
    f->head = workbook_add_format(f->book);
    format_set_bold(f->head);
    format_set_bottom(f->head, LXW_BORDER_THIN);
    format_set_text_wrap(f->head);
    format_set_align(f->head, LXW_ALIGN_VERTICAL_TOP);
    f->bold = workbook_add_format(f->book);
    format_set_bold(f->bold);
    f->wrap = workbook_add_format(f->book);
    format_set_text_wrap(f->wrap);
    format_set_align(f->wrap, LXW_ALIGN_VERTICAL_TOP);
    f->top = workbook_add_format(f->book);
    format_set_align(f->top, LXW_ALIGN_VERTICAL_TOP);
}

Bookframe *bookframe_begin(const char *folder, const char *notice) {
    Bookframe *f = g_new0(Bookframe, 1);
    lxw_workbook_options options = {.constant_memory = LXW_TRUE, .tmpdir = (char *)folder};
    lxw_doc_properties about = {.title = (char *)"Critical-care transfers: the audit",
                                .comments = (char *)notice,
                                .created = 946684800}; // fixed, so that bytes do not change
    f->path = g_build_filename(folder, "summary.xlsx", NULL);
    f->book = workbook_new_opt(f->path, &options);
    formats(f);
    workbook_set_properties(f->book, &about);
    return f;
}

char *bookframe_end(Bookframe *f, int threads, gsize *length, GError **error) {
    char *text = NULL;
    const lxw_error failed = f->spare ? LXW_NO_ERROR : workbook_close(f->book);
    if (f->spare) {
        g_set_error(error, G_FILE_ERROR, (gint)g_file_error_from_errno(f->why),
                    "a sheet of summary.xlsx: %s", g_strerror(f->why));
        lxw_workbook_free(f->spare);
        lxw_workbook_free(f->book);
    } else if (failed)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_FAILED, "%s", lxw_strerror(failed));
    else if (bookcheck_whole(f->path, &f->put, threads, error))
        g_file_get_contents(f->path, &text, length, error);
    g_unlink(f->path);
    g_free(f->path);
    g_free(f);
    return text;
}

lxw_worksheet *bookframe_sheet(Bookframe *f, const char *name) {
    lxw_worksheet *sheet = f->spare ? NULL : workbook_add_worksheet(f->book, name);
    if (!sheet) {
        f->why = f->spare ? f->why : errno;
        f->spare = f->spare ? f->spare : workbook_new(f->path);
        sheet = workbook_add_worksheet(f->spare, name); // in memory alone, so that it never fails
    }
    worksheet_set_landscape(sheet);
    worksheet_set_paper(sheet, 9); // A4
    worksheet_fit_to_pages(sheet, 1, 0);
    worksheet_set_footer(sheet, "&L&A&RPage &P of &N");
    return sheet;
}

guint bookframe_lines(const char *text, double width) {
    const glong most = (glong)width;
    glong lines = 1, at = 0; // characters of the last line
    for (const char *next; *text; text = next) {
        const gsize n = strcspn(text, " ");
        const glong word = g_utf8_strlen(text, (gssize)n);
        next = text + n + (text[n] == ' ');
        if (at > 0 && at + word > most) {
            lines++;
            at = 0;
        }
        at += word;
        lines += MAX(at - 1, 0) / most; // of a word longer than the line
        at = at > most ? (at - 1) % most + 2 : at + 1;
    }
    return (guint)lines;
}

void bookframe_height(lxw_worksheet *sheet, lxw_row_t row, guint lines) {
    worksheet_set_row(sheet, row, LXW_DEF_ROW_HEIGHT * lines, NULL);
}

void bookframe_head(Bookframe *f, lxw_worksheet *sheet, const BookColumn *columns, lxw_col_t n) {
    guint lines = 1;
    for (lxw_col_t c = 0; c < n; c++) {
        worksheet_set_column(sheet, c, c, columns[c].width, NULL);
        bookframe_text(f, sheet, 0, c, columns[c].title, f->head);
        worksheet_write_comment(sheet, 0, c, columns[c].note);
        lines = MAX(lines, bookframe_lines(columns[c].title, columns[c].width - 1)); // it is bold
    }
    bookframe_height(sheet, 0, lines);
    worksheet_freeze_panes(sheet, 1, 1);
    worksheet_repeat_rows(sheet, 0, 0);
}

void bookframe_filter(lxw_worksheet *sheet, lxw_row_t last, lxw_col_t n) {
    worksheet_autofilter(sheet, 0, 0, last, n - 1);
    worksheet_print_area(sheet, 0, 0, last, n - 1);
}

void bookframe_text(Bookframe *f, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column,
                    const char *text, lxw_format *format) {
    char *made;
    const char *good = booktext_good(text, &made);
    worksheet_write_string(sheet, row, column, good, format);
    f->put.text += strlen(good);
    f->put.cells += *good || format;
    g_free(made);
}

void bookframe_number(Bookframe *f, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column,
                      double value, lxw_format *format) {
    if (!isfinite(value))
        return;
    worksheet_write_number(sheet, row, column, decimal_rounded(value, TABLES_DIGITS), format);
    f->put.cells++;
}

BookFormat bookframe_format(const Indicator *i) {
    static const BookFormat formats_of[] = {[WORDS_COUNT] = BOOKFRAME_COUNT,
                                            [WORDS_PERCENT] = BOOKFRAME_SHARE,
                                            [WORDS_MINUTES] = BOOKFRAME_MINUTES,
                                            [WORDS_HOURS] = BOOKFRAME_HOURS,
                                            [WORDS_RATE] = BOOKFRAME_RATE};
    return formats_of[words_unit(i)];
}

const char *bookframe_unit(const Source *s, uint16_t unit) {
    return unit ? network_unit_name(s->network, s->e->t->units->pdata[unit]) : "The network";
}

const char *bookframe_period(const char *name) {
    return strcmp(name, "all") == 0 ? "Whole span" : name;
}
