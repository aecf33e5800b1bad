// SPDX-License-Identifier: GPL-3.0-or-later
// The workbook, by libxlsxwriter. It takes NaN and broken UTF-8 without a word, so both are kept
// from it here.
#include "pack/workbook.h"

#include "base/percent.h"
#include "measure/plainly.h"
#include "pack/bookcheck.h"
#include "pack/page.h"
#include "pack/prose.h"
#include "pack/theme.h"
#include "pack/words.h"

#include <gio/gio.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>
#include <xlsxwriter.h>

#define LONGEST_TEXT 32767 // characters in a cell

typedef enum { AS_TEXT, AS_COUNT, AS_SHARE, AS_MINUTES, AS_RATE, FORMATS } Format;

typedef struct {
    const Source *s;
    lxw_workbook *book;
    Theme *theme; // of each indicator
    lxw_format *format[FORMATS], *head, *bold, *wrap;
    BookcheckSum put; // so far
} Book;

static const struct {
    const char *title, *note;
    double width;
} columns[] = {
    {"Indicator", "What is measured; sheet 'Definitions' says what counts among whom.", 38},
    {"Measure", "share, rate, p25, median, p75, p90, mix, count, hours or overlap.", 10},
    {"Unit", "Sending unit; all = the network.", 18},
    {"Period", "all, audit years, quarters, and months of the network.", 10},
    {"Group", "all, or the group or part that the row is of.", 30},
    {"Estimate", "Empty where it can't be estimated: nothing is known to count.", 11},
    {"Lower", "Lower limit of the interval.", 11},
    {"Upper", "Upper limit of the interval.", 11},
    {"Events", "Numerator.", 10},
    {"Of", "Denominator or exposure.", 10},
    {"Unknown", "Records for which it is not known whether they count: in no fraction.", 10},
    {"If none", "The share if none of the unknown were events.", 10},
    {"If all", "The share if all of the unknown were events.", 10},
    {"Scale", "What the estimate is counted in.", 18},
};

// Printable ASCII that fits a cell: most texts are.
static bool is_plain(const char *text) {
    const char *p = text;
    while (*p >= ' ' && *p <= '~')
        p++;
    return *p == 0 && p - text <= LONGEST_TEXT;
}

// A copy that is good for a cell; free it.
static char *made_good(const char *text) {
    char *valid = g_utf8_make_valid(text, -1);
    if (g_utf8_strlen(valid, -1) > LONGEST_TEXT)
        *g_utf8_offset_to_pointer(valid, LONGEST_TEXT) = 0;
    for (char *p = valid; *p; p++) // control characters break the file's XML
        if ((unsigned char)*p < 32 && *p != '\n' && *p != '\t')
            *p = ' ';
    return valid;
}

static void text_at(Book *b, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column,
                    const char *text, lxw_format *format) {
    char *good = is_plain(text) ? NULL : made_good(text);
    const char *written = good ? good : text;
    worksheet_write_string(sheet, row, column, written, format);
    b->put.text += strlen(written);
    b->put.cells += *written || format;
    g_free(good);
}

static void number_at(Book *b, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column, double value,
                      lxw_format *format) {
    if (!isfinite(value))
        return;
    worksheet_write_number(sheet, row, column, value + 0.0, format);
    b->put.cells++;
}

static Format format_of(const Indicator *i) {
    switch (words_unit(i)) {
    case WORDS_PERCENT:
        return AS_SHARE;
    case WORDS_MINUTES:
        return AS_MINUTES;
    case WORDS_COUNT:
        return AS_COUNT;
    case WORDS_HOURS:
    case WORDS_RATE:
        break;
    }
    return AS_RATE;
}

static void write_row(Book *b, lxw_worksheet *sheet, lxw_row_t row, const Estimate *r) {
    const Estimates *e = b->s->e;
    const Indicator *i = e->catalogue->pdata[r->indicator];
    lxw_format *as = b->format[format_of(i)], *count = b->format[AS_COUNT];
    char *group = estimate_group(e, r);
    text_at(b, sheet, row, 0, i->title, NULL);
    text_at(b, sheet, row, 1, estimate_measure(e, r), NULL);
    text_at(b, sheet, row, 2,
            r->unit ? network_unit_name(b->s->network, e->t->units->pdata[r->unit]) : "all", NULL);
    text_at(b, sheet, row, 3, g_array_index(e->periods, Period, r->period).name, NULL);
    text_at(b, sheet, row, 4, group, NULL);
    number_at(b, sheet, row, 5, r->estimate, as);
    number_at(b, sheet, row, 6, r->lower, as);
    number_at(b, sheet, row, 7, r->upper, as);
    number_at(b, sheet, row, 8, r->events, count);
    number_at(b, sheet, row, 9, r->total, count);
    number_at(b, sheet, row, 10, (double)r->unknown, count);
    number_at(b, sheet, row, 11, r->if_none, as);
    number_at(b, sheet, row, 12, r->if_all, as);
    text_at(b, sheet, row, 13, i->scale, NULL);
    g_free(group);
}

static lxw_worksheet *new_sheet(const Book *b, const char *name) {
    lxw_worksheet *sheet = workbook_add_worksheet(b->book, name);
    worksheet_set_landscape(sheet);
    worksheet_set_paper(sheet, 9); // A4
    worksheet_fit_to_pages(sheet, 1, 0);
    worksheet_set_footer(sheet, "&L&A&RPage &P of &N");
    return sheet;
}

// Rows of summary.csv that belong to a theme.
static void theme_sheet(Book *b, Theme theme) {
    guint n = 0;
    while (n < b->s->e->catalogue->len && b->theme[n] != theme)
        n++;
    if (n == b->s->e->catalogue->len)
        return;
    lxw_worksheet *sheet = new_sheet(b, theme_sheet_name(theme));
    const lxw_col_t last = G_N_ELEMENTS(columns) - 1;
    for (lxw_col_t c = 0; c <= last; c++) {
        worksheet_set_column(sheet, c, c, columns[c].width, NULL);
        text_at(b, sheet, 0, c, columns[c].title, b->head);
        worksheet_write_comment(sheet, 0, c, columns[c].note);
    }
    lxw_row_t row = 0;
    for (guint k = 0; k < b->s->e->rows->len && row < LXW_ROW_MAX - 1; k++) {
        const Estimate *r = &g_array_index(b->s->e->rows, Estimate, k);
        if (b->theme[r->indicator] == theme)
            write_row(b, sheet, ++row, r);
    }
    worksheet_freeze_panes(sheet, 1, 1);
    worksheet_autofilter(sheet, 0, 0, row, last);
    worksheet_repeat_rows(sheet, 0, 0);
    worksheet_print_area(sheet, 0, 0, row, last);
}

static void about_sheet(Book *b) {
    lxw_worksheet *sheet = new_sheet(b, "About");
    char *span = page_span(b->s), *confidence = percent_exact(b->s->e->confidence, 4);
    char *limits = g_strdup_printf("Intervals: %s. Empty cells: not known, or not to be "
                                   "estimated; they are not zero.",
                                   confidence);
    g_free(confidence);
    const char *notice = words_notice(b->s->network);
    lxw_row_t row = 0;
    worksheet_set_column(sheet, 0, 0, 110, NULL);
    text_at(b, sheet, row++, 0, "Critical-care transfers: the audit", b->bold);
    text_at(b, sheet, row++, 0, page_network(b->s), NULL);
    text_at(b, sheet, row++, 0, span, NULL);
    if (notice)
        text_at(b, sheet, row++, 0, notice, b->bold);
    text_at(b, sheet, ++row, 0, limits, b->wrap);
    row += 2;
    for (const char *const *text = prose_caution_texts; *text; text++)
        text_at(b, sheet, row++, 0, *text, b->wrap);
    g_free(limits);
    g_free(span);
}

static void definitions_sheet(Book *b) {
    static const char *const heads[] = {"Indicator",
                                        "Counts",
                                        "Among",
                                        "Scale",
                                        "Note",
                                        "Name",
                                        "Condition of what counts",
                                        "Condition among whom"};
    static const double widths[] = {38, 50, 40, 20, 40, 34, 40, 40};
    lxw_worksheet *sheet = new_sheet(b, "Definitions");
    for (lxw_col_t c = 0; c < (lxw_col_t)G_N_ELEMENTS(heads); c++) {
        worksheet_set_column(sheet, c, c, widths[c], NULL);
        text_at(b, sheet, 0, c, heads[c], b->head);
    }
    for (guint k = 0; k < b->s->e->catalogue->len; k++) {
        const Indicator *i = b->s->e->catalogue->pdata[k];
        char *counts = plainly_counts(i), *among = plainly_among(i);
        const char *cells[] = {i->title, counts,  among,          i->scale,
                               i->note,  i->name, i->events_text, i->among_text};
        for (lxw_col_t c = 0; c < (lxw_col_t)G_N_ELEMENTS(cells); c++)
            text_at(b, sheet, k + 1, c, cells[c] ? cells[c] : "", b->wrap);
        g_free(counts);
        g_free(among);
    }
    worksheet_freeze_panes(sheet, 1, 1);
    worksheet_repeat_rows(sheet, 0, 0);
}

static Theme *themes_of(const GPtrArray *catalogue) {
    Theme *themes = g_new(Theme, catalogue->len + 1);
    for (guint i = 0; i < catalogue->len; i++)
        themes[i] = theme_of(((Indicator *)catalogue->pdata[i])->name);
    return themes;
}

static void formats(Book *b) {
    static const char *const number[FORMATS] = {"@", "#,##0", "[=0]0%;[<0.00995]0.00%;0.0%",
                                                "#,##0", "#,##0.00"};
    for (int f = 0; f < FORMATS; f++) {
        b->format[f] = workbook_add_format(b->book);
        format_set_num_format(b->format[f], number[f]);
    }
    b->head = workbook_add_format(b->book);
    format_set_bold(b->head);
    format_set_bottom(b->head, LXW_BORDER_THIN);
    b->bold = workbook_add_format(b->book);
    format_set_bold(b->bold);
    b->wrap = workbook_add_format(b->book);
    format_set_text_wrap(b->wrap);
    format_set_align(b->wrap, LXW_ALIGN_VERTICAL_TOP);
}

static void properties(const Book *b) {
    lxw_doc_properties about = {.title = (char *)"Critical-care transfers: the audit",
                                .comments = (char *)words_notice(b->s->network),
                                .created = 946684800}; // fixed, so that bytes do not change
    workbook_set_properties(b->book, &about);
}

// The library does not say when a write to one of its files on the way failed.
char *workbook_summary(const Source *s, const char *folder, gsize *length, GError **error) {
    char *path = g_build_filename(folder, "summary.xlsx", NULL), *text = NULL;
    lxw_workbook_options options = {.constant_memory = LXW_TRUE, .tmpdir = (char *)folder};
    Book b = {
        .s = s, .theme = themes_of(s->e->catalogue), .book = workbook_new_opt(path, &options)};
    formats(&b);
    properties(&b);
    about_sheet(&b);
    for (Theme t = 0; t <= THEME_QUALITY; t++)
        theme_sheet(&b, t);
    definitions_sheet(&b);
    const lxw_error failed = workbook_close(b.book);
    if (failed)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_FAILED, "%s", lxw_strerror(failed));
    else if (bookcheck_whole(path, &b.put, error))
        g_file_get_contents(path, &text, length, error);
    if (!text)
        g_prefix_error(error, "summary.xlsx: ");
    g_unlink(path);
    g_free(path);
    g_free(b.theme);
    return text;
}
