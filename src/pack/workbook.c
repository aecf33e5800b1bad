// SPDX-License-Identifier: GPL-3.0-or-later
// The workbook's sheets but those of the estimates: what it is, the signals, and the definitions.
#include "pack/workbook.h"

#include "base/percent.h"
#include "measure/plainly.h"
#include "pack/booksheets.h"
#include "pack/page.h"
#include "pack/prose.h"
#include "pack/releasetext.h"
#include "pack/words.h"

struct Workbook {
    const Source *s;
    Bookframe *f;
    lxw_worksheet *signals; // NULL: a release has none
};

static const BookColumn signal_columns[] = {
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
    {"q", "The part of false alarms to expect among signals as strong as this one.", 12},
    {"Rests on", "robust: it stands even in the worst case for what is unknown.", 26},
    {"In words", "The whole sentence, as the report has it.", 110},
};

static const char *const measure_words[] = {[MEASURE_SHARE] = "share",
                                            [MEASURE_RATE] = "rate",
                                            [MEASURE_QUANTILE] = "quartiles, 90th percentile",
                                            [MEASURE_MIX] = "parts of a mix",
                                            [MEASURE_COUNT] = "count",
                                            [MEASURE_HOURS] = "hours",
                                            [MEASURE_OVERLAP] = "overlap"};

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

// A cell in which text wraps; the row's lines grow to what it takes.
static void wrapped(Workbook *b, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column,
                    const char *text, double width, guint *lines) {
    bookframe_text(b->f, sheet, row, column, text, b->f->wrap);
    *lines = MAX(*lines, bookframe_lines(text, width));
}

static void signal_row(Workbook *b, lxw_row_t row, const Signal *g) {
    const Indicator *i = b->s->e->catalogue->pdata[g->indicator];
    guint lines = 1;
    lxw_format *as = b->f->format[in_scale(g) ? bookframe_format(i) : BOOKFRAME_RATIO];
    char *found = found_words(g), *robust = compare_robust(g->robust, g->rests_on),
         *patients =
             g->urgency
                 ? plainly_code(field_code_text(field_table[FIELD_urgency].codes, g->urgency))
                 : g_strdup("all");
    bookframe_text(b->f, b->signals, row, 0, bookframe_unit(b->s, g->unit), b->f->top);
    wrapped(b, b->signals, row, 1, i->title, signal_columns[1].width, &lines);
    bookframe_text(b->f, b->signals, row, 2, patients, b->f->top);
    bookframe_text(b->f, b->signals, row, 3, signal_direction(g->direction), b->f->top);
    wrapped(b, b->signals, row, 4, found, signal_columns[4].width, &lines);
    bookframe_text(b->f, b->signals, row, 5, bookframe_period(g->period), b->f->top);
    bookframe_number(b->f, b->signals, row, 6, g->estimate, as);
    bookframe_number(b->f, b->signals, row, 7, g->reference, as);
    bookframe_number(b->f, b->signals, row, 8, g->q, b->f->format[BOOKFRAME_CHANCE]);
    wrapped(b, b->signals, row, 9, robust, signal_columns[9].width, &lines);
    wrapped(b, b->signals, row, 10, g->sentence, signal_columns[10].width, &lines);
    bookframe_height(b->signals, row, lines);
    g_free(patients);
    g_free(robust);
    g_free(found);
}

// Of signals.csv, in its order: the most important first.
static void signals_sheet(Workbook *b, const GPtrArray *list) {
    const lxw_col_t n = G_N_ELEMENTS(signal_columns);
    lxw_row_t row = 0;
    bookframe_head(b->f, b->signals, signal_columns, n);
    for (guint k = 0; k < list->len; k++)
        signal_row(b, ++row, list->pdata[k]);
    if (row == 0)
        bookframe_text(b->f, b->signals, ++row, 0,
                       "Nothing differs or changes by more than chance.", NULL);
    bookframe_filter(b->signals, row, n);
}

static const char signals_text[] =
    "Sheet 'Signals' says what differs or changes by more than chance. Then each";
static const char sheets_text[] =
    " theme has its "
    "estimates, a row an indicator, unit, period and group; durations, which have four quantiles "
    "in a row, are on sheets of their own. A heading's note says what the column holds; "
    "'Definitions' says what each indicator counts.";

enum { ABOUT_WIDTH = 110 };

static void paragraph(Workbook *b, lxw_worksheet *sheet, lxw_row_t row, const char *text) {
    guint lines = 1;
    wrapped(b, sheet, row, 0, text, ABOUT_WIDTH, &lines);
    bookframe_height(sheet, row, lines);
}

static void about_sheet(Workbook *b) {
    lxw_worksheet *sheet = bookframe_sheet(b->f, "About");
    char *span = page_span(b->s), *confidence = percent_exact(b->s->e->confidence, 4);
    char *limits = g_strdup_printf("Intervals: %s. Empty cells: not known, or not to be "
                                   "estimated; they are not zero.",
                                   confidence);
    char *sheets = g_strconcat(b->s->hiding ? "Each" : signals_text, sheets_text, NULL),
         *banner = b->s->hiding ? releasetext_banner(b->s->hiding) : NULL,
         *hidden = b->s->hiding ? releasetext_mark(b->s->hiding) : NULL;
    g_free(confidence);
    const char *notice = words_notice(b->s->network);
    lxw_row_t row = 0;
    worksheet_set_column(sheet, 0, 0, ABOUT_WIDTH, NULL);
    bookframe_text(b->f, sheet, row++, 0, "Critical-care transfers: the audit", b->f->bold);
    bookframe_text(b->f, sheet, row++, 0, page_network(b->s), NULL);
    bookframe_text(b->f, sheet, row++, 0, span, NULL);
    if (notice)
        bookframe_text(b->f, sheet, row++, 0, notice, b->f->bold);
    if (banner)
        bookframe_text(b->f, sheet, row++, 0, banner, b->f->bold);
    paragraph(b, sheet, ++row, limits);
    paragraph(b, sheet, ++row, sheets);
    if (hidden)
        paragraph(b, sheet, ++row, hidden);
    row += 2;
    for (guint k = 0; prose_caution(b->s, k); k++)
        paragraph(b, sheet, row++, prose_caution(b->s, k));
    g_free(hidden);
    g_free(banner);
    g_free(sheets);
    g_free(limits);
    g_free(span);
}

static void definitions_sheet(Workbook *b) {
    static const char *const heads[] = {"Indicator",
                                        "Counts",
                                        "Among",
                                        "Measure",
                                        "Scale",
                                        "Note",
                                        "Name",
                                        "Condition of what counts",
                                        "Condition among whom"};
    static const double widths[] = {38, 50, 40, 20, 20, 40, 34, 40, 40};
    lxw_worksheet *sheet = bookframe_sheet(b->f, "Definitions");
    for (lxw_col_t c = 0; c < (lxw_col_t)G_N_ELEMENTS(heads); c++) {
        worksheet_set_column(sheet, c, c, widths[c], NULL);
        bookframe_text(b->f, sheet, 0, c, heads[c], b->f->head);
    }
    for (guint k = 0; k < b->s->e->catalogue->len; k++) {
        const Indicator *i = b->s->e->catalogue->pdata[k];
        guint lines = 1;
        char *counts = plainly_counts(i), *among = plainly_among(i);
        const char *cells[] = {i->title,     counts,  among,   measure_words[i->measure],
                               i->scale,     i->note, i->name, i->events_text,
                               i->among_text};
        for (lxw_col_t c = 0; c < (lxw_col_t)G_N_ELEMENTS(cells); c++)
            wrapped(b, sheet, k + 1, c, cells[c] ? cells[c] : "", widths[c], &lines);
        bookframe_height(sheet, k + 1, lines);
        g_free(counts);
        g_free(among);
    }
    worksheet_freeze_panes(sheet, 1, 1);
    worksheet_repeat_rows(sheet, 0, 0);
}

Workbook *workbook_begin(const Source *s, const char *folder) {
    Workbook *b = g_new0(Workbook, 1);
    b->s = s;
    b->f = bookframe_begin(folder, words_notice(s->network));
    about_sheet(b);
    b->signals = s->hiding ? NULL : bookframe_sheet(b->f, "Signals");
    booksheets_add(b->f, s, LXW_ROW_MAX - 1);
    definitions_sheet(b);
    return b;
}

char *workbook_end(Workbook *b, const Signals *signals, gsize *length, GError **error) {
    if (b->signals)
        signals_sheet(b, signals->list);
    char *text = bookframe_end(b->f, b->s->e->threads, length, error);
    if (!text)
        g_prefix_error(error, "summary.xlsx: ");
    g_free(b);
    return text;
}
