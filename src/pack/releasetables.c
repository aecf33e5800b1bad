// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers of one row have different units, so cells are texts, with decimals that suit their row.
#include "pack/releasetables.h"

#include "pack/prose.h"
#include "pack/releasetext.h"

#include <math.h>
#include <string.h>

enum { MEDIAN = 1, NINE_IN_TEN = 3 }; // quantiles
enum { UNIT_COLUMNS = 4 };            // indicators beside each other: what A4 has room for

// A table that is filled.
typedef struct {
    const Source *s;
    Sheet *sheet;
    guint numbers, hidden;
} Filling;

static Filling begin(const Source *s, const char *caption, const char *first) {
    Filling f = {s, sheet_new(caption), 0, 0};
    sheet_column(f.sheet, first, SHEET_TEXT, WORDS_COUNT);
    return f;
}

static ReleaseTable *end(const Filling *f) {
    ReleaseTable *t = g_new0(ReleaseTable, 1);
    t->sheet = f->sheet;
    if (f->hidden)
        t->note = releasetext_note(f->s->hiding, f->hidden, f->numbers);
    return t;
}

void releasetables_free(gpointer table) {
    ReleaseTable *t = table;
    sheet_free(t->sheet);
    g_free(t->note);
    g_free(t);
}

// Counts the cell; whether it says that its number is hidden, which is then done.
static bool put_hidden(Filling *f, const Estimate *r) {
    f->numbers++;
    if (!r || !r->suppressed)
        return false;
    f->hidden++;
    sheet_text(f->sheet, prose_hidden);
    return true;
}

static void put_count(Filling *f, const Estimate *r, double count) {
    if (!put_hidden(f, r))
        sheet_number(f->sheet, r ? count : NAN);
}

static void put_estimate(Filling *f, const Estimate *r, WordsUnit unit, int decimals) {
    if (put_hidden(f, r))
        return;
    char *text = r && lookup_is_known(f->s->lookup, r)
                     ? words_interval(unit, r->estimate, r->lower, r->upper, decimals)
                     : words_figure(unit, NAN, 0);
    sheet_text(f->sheet, text);
    g_free(text);
}

static const Period *period_at(const Source *s, guint k) {
    return &g_array_index(s->e->periods, Period, k);
}

// Whole span and the audit years within it, as indices of periods; a year that is the whole span
// adds nothing.
static GArray *columns_of(const Source *s) {
    GArray *years = lookup_periods(s->lookup, PERIOD_YEAR);
    const guint all = 0;
    const Period *span = period_at(s, 0);
    for (guint k = years->len; k-- > 0;) {
        const Period *year = period_at(s, g_array_index(years, guint, k));
        if (year->end <= span->first || year->first >= span->end ||
            (year->first <= span->first && year->end >= span->end))
            g_array_remove_index(years, k);
    }
    g_array_prepend_val(years, all);
    return years;
}

static void period_columns(Filling *f, const GArray *periods) {
    for (guint k = 0; k < periods->len; k++) {
        const guint p = g_array_index(periods, guint, k);
        sheet_column(f->sheet, p ? period_at(f->s, p)->name : "Whole span", SHEET_INTERVAL,
                     WORDS_COUNT);
    }
}

// The row's estimates by period, with decimals that suit all of them.
static void put_periods(Filling *f, const GArray *periods, LookupKey key, WordsUnit unit) {
    double largest = NAN, smallest = NAN;
    const Estimate *rows[G_MAXUINT8 + 1];
    const guint n = MIN(periods->len, (guint)G_N_ELEMENTS(rows));
    for (guint k = 0; k < n; k++) {
        key.period = (uint16_t)g_array_index(periods, guint, k);
        rows[k] = lookup_row(f->s->lookup, &key);
        const double value = rows[k] ? fabs(rows[k]->estimate) : NAN;
        largest = fmax(largest, value);
        smallest = value > 0 ? fmin(smallest, value) : smallest;
    }
    for (guint k = 0; k < n; k++)
        put_estimate(f, rows[k], unit, words_decimals_between(unit, smallest, largest));
}

// What an indicator's figures are, with what a rate is per.
static char *label(const Indicator *i, const char *quantile) {
    const bool said = strcmp(i->scale, "per week") == 0 && strstr(i->title, "a week");
    const bool rate = words_unit(i) == WORDS_RATE && !said;
    return g_strconcat(i->title, rate ? ", " : "", rate ? i->scale : "", quantile, NULL);
}

static const char *whole(const Source *s) {
    return words_single(s->e) ? words_whole(s->e, s->network) : "the network";
}

static void network_row(Filling *f, const GArray *periods, const Indicator *i, uint8_t quantile,
                        const char *words) {
    LookupKey key = lookup_key(i->name);
    key.quantile = quantile;
    const Estimate *all = lookup_row(f->s->lookup, &key);
    char *text = label(i, words);
    sheet_text(f->sheet, text);
    put_periods(f, periods, key, words_unit(i));
    put_count(f, all, all ? (double)all->unknown : NAN);
    g_free(text);
}

static ReleaseTable *network_table(const Source *s, const GPtrArray *indicators,
                                   const char *theme) {
    char *caption = g_strconcat(theme, ": indicators of ", whole(s), NULL);
    Filling f = begin(s, caption, "Indicator");
    GArray *periods = columns_of(s);
    period_columns(&f, periods);
    sheet_column(f.sheet, "Not known for", SHEET_NUMBER, WORDS_COUNT);
    for (guint k = 0; k < indicators->len; k++) {
        const Indicator *i = indicators->pdata[k];
        const bool quantile = i->measure == MEASURE_QUANTILE;
        network_row(&f, periods, i, quantile ? MEDIAN : 0, quantile ? ": half within" : "");
        if (quantile)
            network_row(&f, periods, i, NINE_IN_TEN, ": nine in ten within");
    }
    g_array_unref(periods);
    g_free(caption);
    return end(&f);
}

static void unit_row(Filling *f, const GPtrArray *indicators, guint from, guint to, uint16_t unit) {
    sheet_text(f->sheet, unit ? words_unit_name(f->s->e, f->s->network, unit) : "The network");
    for (guint k = from; k < to; k++) {
        const Indicator *i = indicators->pdata[k];
        LookupKey key = lookup_key(i->name);
        key.unit = unit;
        key.quantile = i->measure == MEASURE_QUANTILE ? MEDIAN : 0;
        const Estimate *r = lookup_row(f->s->lookup, &key);
        put_estimate(f, r, words_unit(i), words_decimals(words_unit(i), r ? r->estimate : NAN));
    }
}

// Some of the indicators by unit over the whole span.
static ReleaseTable *unit_table(const Source *s, const GPtrArray *indicators, guint from, guint to,
                                const char *caption) {
    Filling f = begin(s, caption, "Sending unit");
    for (guint k = from; k < to; k++) {
        const Indicator *i = indicators->pdata[k];
        char *text = label(i, i->measure == MEASURE_QUANTILE ? ": half within" : "");
        sheet_column(f.sheet, text, SHEET_INTERVAL, words_unit(i));
        g_free(text);
    }
    for (guint u = 1; u < s->e->units->len; u++)
        unit_row(&f, indicators, from, to, g_array_index(s->e->units, uint16_t, u));
    unit_row(&f, indicators, from, to, 0);
    return end(&f);
}

static void add_units(GPtrArray *tables, const Source *s, const GPtrArray *indicators,
                      const char *theme) {
    const guint n =
        (indicators->len + UNIT_COLUMNS - 1) / UNIT_COLUMNS; // tables, as wide as can be
    for (guint t = 0; t < n; t++) {
        const guint from = t * indicators->len / n, to = (t + 1) * indicators->len / n;
        char *part = n > 1 ? g_strdup_printf(" (%u of %u)", t + 1, n) : NULL,
             *caption = g_strconcat(theme, ": by sending unit, whole span", part, NULL);
        g_ptr_array_add(tables, unit_table(s, indicators, from, to, caption));
        g_free(caption);
        g_free(part);
    }
}

// A mix's parts in the network, in print order.
static ReleaseTable *mix_table(const Source *s, const Indicator *i) {
    char *caption = g_strconcat(i->title, ": parts in ", whole(s), NULL);
    Filling f = begin(s, caption, "Part");
    GArray *periods = columns_of(s);
    sheet_column(f.sheet, "Number", SHEET_NUMBER, WORDS_COUNT);
    period_columns(&f, periods);
    for (guint k = 0; k < s->e->rows->len; k++) {
        const Estimate *r = &g_array_index(s->e->rows, Estimate, k);
        if (s->e->catalogue->pdata[r->indicator] != i || r->unit != 0 || r->period != 0 ||
            r->by != FIELD_COUNT)
            continue;
        LookupKey key = lookup_key(i->name);
        key.part = r->part;
        char *part = words_group(s->e, s->network, i->field, r->part);
        sheet_text(f.sheet, part);
        put_count(&f, r, r->events);
        put_periods(&f, periods, key, words_unit(i));
        g_free(part);
    }
    g_array_unref(periods);
    g_free(caption);
    return end(&f);
}

GPtrArray *releasetables_of(const Source *s, Theme theme) {
    GPtrArray *tables = g_ptr_array_new_with_free_func(releasetables_free);
    GPtrArray *figures = g_ptr_array_new(), *mixes = g_ptr_array_new();
    for (guint k = 0; k < s->e->catalogue->len; k++) {
        Indicator *i = s->e->catalogue->pdata[k];
        if (theme_of(i->name) == theme)
            g_ptr_array_add(i->measure == MEASURE_MIX ? mixes : figures, i);
    }
    const char *heading = theme_heading(theme);
    if (figures->len)
        g_ptr_array_add(tables, network_table(s, figures, heading));
    if (figures->len && s->e->units->len > 2) // all, and more than one
        add_units(tables, s, figures, heading);
    for (guint k = 0; k < mixes->len; k++)
        g_ptr_array_add(tables, mix_table(s, mixes->pdata[k]));
    g_ptr_array_unref(figures);
    g_ptr_array_unref(mixes);
    return tables;
}

ReleaseTable *releasetables_account(const Source *s) {
    const Accounted a = accounted_of(s->account, s->e, s->hiding);
    Filling f = {s, prose_account(s), 0, 0};
    for (int k = 0; k < ACCOUNTED_COUNTS; k++) {
        f.numbers++;
        f.hidden += a.hidden[k];
    }
    return end(&f);
}

ReleaseTable *releasetables_rows(const Source *s) {
    const guint shown = s->hiding->rows[HIDING_SHOWN];
    Filling f = begin(s, "Rows of summary.csv", "Rows");
    sheet_column(f.sheet, "Number", SHEET_NUMBER, WORDS_COUNT);
    sheet_text(f.sheet, "Shown");
    sheet_number(f.sheet, shown);
    sheet_text(f.sheet, "Hidden"); // not by kind: where none is hidden for others, all are small
    sheet_number(f.sheet, s->e->rows->len - shown);
    return end(&f);
}
