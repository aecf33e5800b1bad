// SPDX-License-Identifier: GPL-3.0-or-later
// The workbook, by libxlsxwriter. It takes NaN and broken UTF-8 without a word, so both are kept
// from it here.
#include "pack/workbook.h"

#include "base/decimal.h"
#include "base/percent.h"
#include "measure/plainly.h"
#include "pack/bookcheck.h"
#include "pack/groups.h"
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

typedef enum {
    AS_COUNT,
    AS_SHARE,
    AS_MINUTES,
    AS_HOURS,
    AS_RATE,
    AS_RATIO,
    AS_CHANCE,
    FORMATS
} Format;

struct Workbook {
    const Source *s;
    char *path;
    lxw_workbook *book;
    lxw_worksheet *signals;
    Theme *theme; // of each indicator
    Groups *groups;
    lxw_format *format[FORMATS], *head, *bold, *wrap, *top;
    BookcheckSum put; // so far
};

typedef struct {
    const char *title, *note;
    double width;
} Column;

static const Column columns[] = {
    {"Indicator", "What is measured; sheet 'Definitions' says what counts among whom.", 38},
    {"Measure", "Share, rate, quartile or percentile, part of a mix, count, hours or overlap.", 15},
    {"Unit", "Sending unit, or the network.", 18},
    {"Period", "The whole span, audit years, quarters, and months of the network.", 12},
    {"Group", "all, or the group or part that the row is of.", 42},
    {"Estimate", "Empty where it can't be estimated: nothing is known to count.", 12},
    {"Lower", "Lower limit of the interval.", 12},
    {"Upper", "Upper limit of the interval.", 12},
    {"Events", "Numerator.", 10},
    {"Of", "Denominator or exposure.", 10},
    {"Unknown", "Records for which it is not known whether they count: in no fraction.", 10},
    {"If none", "The share if none of the unknown were events.", 10},
    {"If all", "The share if all of the unknown were events.", 10},
    {"Per", "What a rate is counted per.", 16},
};

static const Column signal_columns[] = {
    {"Where", "The unit, or the network.", 22},
    {"Indicator", "What is measured; sheet 'Definitions' says what counts among whom.", 34},
    {"Patients", "all, or the patients of one urgency.", 15},
    {"Direction", "worse or better; higher or lower where neither is meant.", 10},
    {"Found", "What was held against what.", 38},
    {"Period", "Of the value.", 12},
    {"Value",
     "In the indicator's own scale; of a trend a year's ratio of odds or rates, or minutes a "
     "year; adjusted for case-mix: observed / expected.",
     11},
    {"Against",
     "What the value is held against: the network's value, the centre line, the earlier "
     "value, or that of no trend.",
     11},
    {"q", "The part of false alarms to expect among signals as strong as this one.", 10},
    {"Rests on", "robust: it stands even in the worst case for what is unknown.", 26},
    {"In words", "The whole sentence, as the report has it.", 110},
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

static void text_at(Workbook *b, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column,
                    const char *text, lxw_format *format) {
    char *good = is_plain(text) ? NULL : made_good(text);
    const char *written = good ? good : text;
    worksheet_write_string(sheet, row, column, written, format);
    b->put.text += strlen(written);
    b->put.cells += *written || format;
    g_free(good);
}

static void number_at(Workbook *b, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column,
                      double value, lxw_format *format) {
    if (!isfinite(value))
        return;
    worksheet_write_number(sheet, row, column, decimal_rounded(value, TABLES_DIGITS), format);
    b->put.cells++;
}

static Format format_of(const Indicator *i) {
    static const Format formats_of[] = {[WORDS_COUNT] = AS_COUNT,
                                        [WORDS_PERCENT] = AS_SHARE,
                                        [WORDS_MINUTES] = AS_MINUTES,
                                        [WORDS_HOURS] = AS_HOURS,
                                        [WORDS_RATE] = AS_RATE};
    return formats_of[words_unit(i)];
}

static const char *measure_words(const Indicator *i, const Estimate *r) {
    static const char *const words[] = {
        [MEASURE_SHARE] = "share",       [MEASURE_RATE] = "rate",   [MEASURE_QUANTILE] = NULL,
        [MEASURE_MIX] = "part of a mix", [MEASURE_COUNT] = "count", [MEASURE_HOURS] = "hours",
        [MEASURE_OVERLAP] = "overlap"};
    static const char *const quantiles[] = {"lower quartile", "median", "upper quartile",
                                            "90th percentile"};
    return i->measure == MEASURE_QUANTILE ? quantiles[r->quantile] : words[i->measure];
}

static const char *unit_words(const Workbook *b, uint16_t unit) {
    return unit ? network_unit_name(b->s->network, b->s->e->t->units->pdata[unit]) : "The network";
}

static const char *period_words(const char *name) {
    return strcmp(name, "all") == 0 ? "Whole span" : name;
}

// What a rate is per; NULL for all else, whose numbers' format says their unit.
static const char *per(const Indicator *i) {
    return g_str_has_prefix(i->scale, "per ") ? i->scale + strlen("per ") : NULL;
}

static void write_row(Workbook *b, lxw_worksheet *sheet, lxw_row_t row, const Estimate *r) {
    const Estimates *e = b->s->e;
    const Indicator *i = e->catalogue->pdata[r->indicator];
    lxw_format *as = b->format[format_of(i)], *count = b->format[AS_COUNT];
    text_at(b, sheet, row, 0, i->title, NULL);
    text_at(b, sheet, row, 1, measure_words(i, r), NULL);
    text_at(b, sheet, row, 2, unit_words(b, r->unit), NULL);
    text_at(b, sheet, row, 3, period_words(g_array_index(e->periods, Period, r->period).name),
            NULL);
    text_at(b, sheet, row, 4, groups_text(b->groups, r), NULL);
    number_at(b, sheet, row, 5, r->estimate, as);
    number_at(b, sheet, row, 6, r->lower, as);
    number_at(b, sheet, row, 7, r->upper, as);
    number_at(b, sheet, row, 8, r->events, count);
    number_at(b, sheet, row, 9, r->total, count);
    number_at(b, sheet, row, 10, (double)r->unknown, count);
    number_at(b, sheet, row, 11, r->if_none, as);
    number_at(b, sheet, row, 12, r->if_all, as);
    if (per(i))
        text_at(b, sheet, row, 13, per(i), NULL);
}

static lxw_worksheet *new_sheet(const Workbook *b, const char *name) {
    lxw_worksheet *sheet = workbook_add_worksheet(b->book, name);
    worksheet_set_landscape(sheet);
    worksheet_set_paper(sheet, 9); // A4
    worksheet_fit_to_pages(sheet, 1, 0);
    worksheet_set_footer(sheet, "&L&A&RPage &P of &N");
    return sheet;
}

// The first row: the columns' names, each with a note; it stays in sight. Rows below are at most
// last.
static void head(Workbook *b, lxw_worksheet *sheet, const Column *list, lxw_col_t n) {
    for (lxw_col_t c = 0; c < n; c++) {
        worksheet_set_column(sheet, c, c, list[c].width, NULL);
        text_at(b, sheet, 0, c, list[c].title, b->head);
        worksheet_write_comment(sheet, 0, c, list[c].note);
    }
    worksheet_freeze_panes(sheet, 1, 1);
    worksheet_repeat_rows(sheet, 0, 0);
}

static void filter(lxw_worksheet *sheet, lxw_row_t last, lxw_col_t n) {
    worksheet_autofilter(sheet, 0, 0, last, n - 1);
    worksheet_print_area(sheet, 0, 0, last, n - 1);
}

// Rows of summary.csv that belong to a theme.
static void theme_sheet(Workbook *b, Theme theme) {
    guint n = 0;
    while (n < b->s->e->catalogue->len && b->theme[n] != theme)
        n++;
    if (n == b->s->e->catalogue->len)
        return;
    lxw_worksheet *sheet = new_sheet(b, theme_sheet_name(theme));
    head(b, sheet, columns, G_N_ELEMENTS(columns));
    lxw_row_t row = 0;
    for (guint k = 0; k < b->s->e->rows->len && row < LXW_ROW_MAX - 1; k++) {
        const Estimate *r = &g_array_index(b->s->e->rows, Estimate, k);
        if (b->theme[r->indicator] == theme)
            write_row(b, sheet, ++row, r);
    }
    filter(sheet, row, G_N_ELEMENTS(columns));
}

// Whether a signal's value is in its indicator's scale.
static bool in_scale(const Signal *g) {
    const bool gaps = g->kind == SIGNAL_POINT && g->series && g->series->gaps;
    return g->kind != SIGNAL_TREND && !gaps && !(g->kind == SIGNAL_LEVEL && g->adjusted);
}

static char *found_words(const Signal *g) {
    static const char *const words[] = {[SIGNAL_LEVEL] = "a unit against the network",
                                        [SIGNAL_TREND] = "a trend",
                                        [SIGNAL_SHIFT] =
                                            "the later half of the time against the earlier",
                                        [SIGNAL_POINT] = "one period against all"};
    if (g->kind == SIGNAL_CHANGE)
        return g_strdup_printf("%s against %s", g->period, g->against);
    return g_strconcat(words[g->kind], g->adjusted ? ", adjusted for case-mix" : "", NULL);
}

static void signal_row(Workbook *b, lxw_row_t row, const Signal *g) {
    const Indicator *i = b->s->e->catalogue->pdata[g->indicator];
    lxw_format *as = b->format[in_scale(g) ? format_of(i) : AS_RATIO];
    char *found = found_words(g), *robust = compare_robust(g->robust, g->rests_on),
         *patients =
             g->urgency
                 ? plainly_code(field_code_text(field_table[FIELD_urgency].codes, g->urgency))
                 : g_strdup("all");
    text_at(b, b->signals, row, 0, unit_words(b, g->unit), b->top);
    text_at(b, b->signals, row, 1, i->title, b->wrap);
    text_at(b, b->signals, row, 2, patients, b->top);
    text_at(b, b->signals, row, 3, signal_direction(g->direction), b->top);
    text_at(b, b->signals, row, 4, found, b->wrap);
    text_at(b, b->signals, row, 5, period_words(g->period), b->top);
    number_at(b, b->signals, row, 6, g->estimate, as);
    number_at(b, b->signals, row, 7, g->reference, as);
    number_at(b, b->signals, row, 8, g->q, b->format[AS_CHANCE]);
    text_at(b, b->signals, row, 9, robust, b->wrap);
    text_at(b, b->signals, row, 10, g->sentence, b->wrap);
    g_free(patients);
    g_free(robust);
    g_free(found);
}

// Of signals.csv, in its order: the most important first.
static void signals_sheet(Workbook *b, const GPtrArray *list) {
    const lxw_col_t n = G_N_ELEMENTS(signal_columns);
    lxw_row_t row = 0;
    head(b, b->signals, signal_columns, n);
    for (guint k = 0; k < list->len; k++)
        signal_row(b, ++row, list->pdata[k]);
    if (row == 0)
        text_at(b, b->signals, ++row, 0, "Nothing differs or changes by more than chance.", NULL);
    filter(b->signals, row, n);
}

static void about_sheet(Workbook *b) {
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

static void definitions_sheet(Workbook *b) {
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

static void formats(Workbook *b) {
    static const char *const number[FORMATS] = {[AS_COUNT] = "#,##0",
                                                [AS_SHARE] = "[=0]0%;[<0.00995]0.00%;0.0%",
                                                [AS_MINUTES] = "#,##0\" min\"",
                                                [AS_HOURS] = "[<1000]0.0\" h\";#,##0\" h\"",
                                                [AS_RATE] = "#,##0.00",
                                                [AS_RATIO] = "0.00",
                                                [AS_CHANCE] = "[<0.001]\"below 0.001\";0.000"};
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
    b->top = workbook_add_format(b->book);
    format_set_align(b->top, LXW_ALIGN_VERTICAL_TOP);
}

static void properties(const Workbook *b) {
    lxw_doc_properties about = {.title = (char *)"Critical-care transfers: the audit",
                                .comments = (char *)words_notice(b->s->network),
                                .created = 946684800}; // fixed, so that bytes do not change
    workbook_set_properties(b->book, &about);
}

Workbook *workbook_begin(const Source *s, const char *folder) {
    Workbook *b = g_new0(Workbook, 1);
    lxw_workbook_options options = {.constant_memory = LXW_TRUE, .tmpdir = (char *)folder};
    b->s = s;
    b->path = g_build_filename(folder, "summary.xlsx", NULL);
    b->book = workbook_new_opt(b->path, &options);
    b->theme = themes_of(s->e->catalogue);
    b->groups = groups_new(s->e, s->network);
    formats(b);
    properties(b);
    about_sheet(b);
    b->signals = new_sheet(b, "Signals");
    for (Theme t = 0; t <= THEME_QUALITY; t++)
        theme_sheet(b, t);
    definitions_sheet(b);
    return b;
}

// The library does not say when a write to one of its files on the way failed.
char *workbook_end(Workbook *b, const Signals *signals, gsize *length, GError **error) {
    char *text = NULL;
    signals_sheet(b, signals->list);
    const lxw_error failed = workbook_close(b->book);
    if (failed)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_FAILED, "%s", lxw_strerror(failed));
    else if (bookcheck_whole(b->path, &b->put, error))
        g_file_get_contents(b->path, &text, length, error);
    if (!text)
        g_prefix_error(error, "summary.xlsx: ");
    g_unlink(b->path);
    groups_free(b->groups);
    g_free(b->theme);
    g_free(b->path);
    g_free(b);
    return text;
}
