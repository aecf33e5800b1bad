// SPDX-License-Identifier: GPL-3.0-or-later
// Which columns a sheet has, and what of a row of the estimates goes where.
#include "pack/booksheets.h"

#include "pack/groups.h"
#include "pack/prose.h"
#include "pack/theme.h"

#include <math.h>
#include <string.h>

enum { QUANTILES = 4, FIGURE_COLUMNS = 13, NAMES = 4 };

// A sheet: what it holds, and what of that it has columns for.
typedef struct {
    Theme theme;
    bool durations, shares, rates;
} Shape;

typedef struct {
    Bookframe *f;
    const Source *s;
    Groups *groups;
    guint most;
    lxw_worksheet *sheet; // the one that is filled, and its last row
    lxw_row_t row;
} Sheets;

#define INDICATOR                                                                                  \
    {                                                                                              \
        "Indicator",                                                                               \
            "What is measured; sheet 'Definitions' says how, and what counts among whom.", 38      \
    }
#define UNIT                                                                                       \
    { "Unit", "Sending unit, or the network.", 18 }
#define PERIOD                                                                                     \
    { "Period", "The whole span, audit years, quarters, and months of the network.", 12 }

static const BookColumn figure_columns[] = {
    INDICATOR,
    UNIT,
    PERIOD,
    {"Group", "all, or the group or part of a mix that the row is of.", 42},
    {"Estimate", "Empty where it can't be estimated: nothing is known to count.", 12},
    {"Lower", "Lower limit of the interval.", 12},
    {"Upper", "Upper limit of the interval.", 12},
    {"Events", "Numerator.", 10},
    {"Of", "Denominator or exposure.", 10},
    {"Unknown", "Records for which it is not known whether they count: in no fraction.", 10},
};

static const BookColumn share_columns[] = {
    {"If none", "The share if none of the unknown were events.", 10},
    {"If all", "The share if all of the unknown were events.", 10},
};

static const BookColumn rate_columns[] = {{"Per", "What a rate is counted per.", 16}};

// By quantile of an estimate, where its three columns begin: the median comes first.
static const guint quantile_column[QUANTILES] = {9, 6, 12, 15};

static const BookColumn duration_columns[] = {
    INDICATOR,
    UNIT,
    PERIOD,
    {"Group", "all, or the group that the row is of.", 32},
    {"Records", "Records whose duration is known.", 10},
    {"Unknown", "Records whose duration is not known: in no quantile.", 10},
    {"Median", "Half took at most this long. Empty where no duration is known.", 11},
    {"Median, from", "Lower limit of the median's interval.", 11},
    {"Median, to", "Upper limit of the median's interval.", 11},
    {"Lower quartile", "A quarter took at most this long.", 11},
    {"Lower quartile, from", "Lower limit of the lower quartile's interval.", 11},
    {"Lower quartile, to", "Upper limit of the lower quartile's interval.", 11},
    {"Upper quartile", "Three in four took at most this long.", 11},
    {"Upper quartile, from", "Lower limit of the upper quartile's interval.", 11},
    {"Upper quartile, to", "Upper limit of the upper quartile's interval.", 11},
    {"90th percentile", "Nine in ten took at most this long.", 11},
    {"90th percentile, from", "Lower limit of the 90th percentile's interval.", 11},
    {"90th percentile, to", "Upper limit of the 90th percentile's interval.", 11},
};

static const Indicator *indicator_of(const Sheets *b, const Estimate *r) {
    return b->s->e->catalogue->pdata[r->indicator];
}

static void text(const Sheets *b, guint column, const char *words) {
    bookframe_text(b->f, b->sheet, b->row, (lxw_col_t)column, words, NULL);
}

static void number(const Sheets *b, guint column, double value, BookFormat as) {
    bookframe_number(b->f, b->sheet, b->row, (lxw_col_t)column, value, b->f->format[as]);
}

// Begins the next row.
static void names(Sheets *b, const Estimate *r) {
    b->row++;
    text(b, 0, indicator_of(b, r)->title);
    text(b, 1, bookframe_unit(b->s, r->unit));
    text(b, 2, bookframe_period(g_array_index(b->s->e->periods, Period, r->period).name));
    text(b, 3, groups_text(b->groups, r));
}

// Three columns; a release marks what is hidden.
static void estimate(const Sheets *b, guint column, const Estimate *r, BookFormat as) {
    if (r->suppressed)
        text(b, column, prose_hidden);
    number(b, column, r->estimate, as);
    number(b, column + 1, r->lower, as);
    number(b, column + 2, r->upper, as);
}

static double unknown_of(const Estimate *r) {
    return r->suppressed ? NAN : (double)r->unknown;
}

// A rate says per what; all other numbers' formats say their unit.
static void figure_row(Sheets *b, const Shape *shape, const Estimate *r) {
    const Indicator *i = indicator_of(b, r);
    const BookFormat as = bookframe_format(i);
    names(b, r);
    estimate(b, NAMES, r, as);
    number(b, NAMES + 3, r->events, BOOKFRAME_COUNT);
    number(b, NAMES + 4, r->total, BOOKFRAME_COUNT);
    number(b, NAMES + 5, unknown_of(r), BOOKFRAME_COUNT);
    if (shape->shares) {
        number(b, NAMES + 6, r->if_none, as);
        number(b, NAMES + 7, r->if_all, as);
    }
    if (g_str_has_prefix(i->scale, "per "))
        text(b, NAMES + (shape->shares ? 8 : 6), i->scale + strlen("per "));
}

// Of the quantiles of one duration, in their order.
static void duration_row(Sheets *b, const Estimate *r) {
    static const guint in_columns_order[QUANTILES] = {1, 0, 2, 3};
    const BookFormat as = bookframe_format(indicator_of(b, r));
    const Estimate *shown = r; // all four have the same counts
    for (guint k = 0; k < QUANTILES && shown->suppressed; k++)
        shown = &r[k];
    names(b, r);
    number(b, NAMES, shown->total, BOOKFRAME_COUNT);
    number(b, NAMES + 1, unknown_of(shown), BOOKFRAME_COUNT);
    for (guint k = 0; k < QUANTILES; k++) {
        const Estimate *q = &r[in_columns_order[k]];
        estimate(b, quantile_column[q->quantile], q, as);
    }
}

static bool belongs(const Shape *shape, const Indicator *i) {
    return theme_of(i->name) == shape->theme &&
           (i->measure == MEASURE_QUANTILE) == shape->durations;
}

// False if no indicator belongs on the sheet.
static bool complete_shape(Shape *shape, const GPtrArray *catalogue) {
    bool any = false;
    for (guint k = 0; k < catalogue->len; k++) {
        const Indicator *i = catalogue->pdata[k];
        if (!belongs(shape, i))
            continue;
        any = true;
        shape->shares |= i->measure == MEASURE_SHARE;
        shape->rates |= i->measure == MEASURE_RATE;
    }
    return any;
}

static guint add_columns(BookColumn *all, guint n, const BookColumn *more, guint n_more) {
    memcpy(all + n, more, n_more * sizeof *more);
    return n + n_more;
}

static lxw_col_t head(const Sheets *b, const Shape *shape) {
    BookColumn all[FIGURE_COLUMNS];
    guint n = 0;
    if (shape->durations) {
        n = G_N_ELEMENTS(duration_columns);
        bookframe_head(b->f, b->sheet, duration_columns, (lxw_col_t)n);
        return (lxw_col_t)n;
    }
    n = add_columns(all, n, figure_columns, G_N_ELEMENTS(figure_columns));
    if (shape->shares)
        n = add_columns(all, n, share_columns, G_N_ELEMENTS(share_columns));
    if (shape->rates)
        n = add_columns(all, n, rate_columns, G_N_ELEMENTS(rate_columns));
    bookframe_head(b->f, b->sheet, all, (lxw_col_t)n);
    return (lxw_col_t)n;
}

// The next row of the estimates, from one on, that is on the sheet.
static guint next_here(const Sheets *b, const bool *here, guint k) {
    const GArray *rows = b->s->e->rows;
    while (k < rows->len && !here[g_array_index(rows, Estimate, k).indicator])
        k++;
    return k;
}

// The sheet's rows, from a row of the estimates on; where they are to go on, if it is full.
static guint fill(Sheets *b, const Shape *shape, const bool *here, guint k) {
    const GArray *rows = b->s->e->rows;
    while (k < rows->len && b->row < b->most) {
        const Estimate *r = &g_array_index(rows, Estimate, k);
        if (shape->durations)
            duration_row(b, r);
        else
            figure_row(b, shape, r);
        k = next_here(b, here, k + (shape->durations ? QUANTILES : 1));
    }
    return k;
}

static guint add_sheet(Sheets *b, const Shape *shape, const bool *here, const char *name,
                       guint from) {
    b->sheet = bookframe_sheet(b->f, name);
    b->row = 0;
    const lxw_col_t n = head(b, shape);
    const guint next = fill(b, shape, here, from);
    bookframe_filter(b->sheet, b->row, n);
    return next;
}

static void add_shape(Sheets *b, Shape *shape) {
    const GPtrArray *catalogue = b->s->e->catalogue;
    if (!complete_shape(shape, catalogue))
        return;
    bool *here = g_new(bool, catalogue->len);
    for (guint i = 0; i < catalogue->len; i++)
        here[i] = belongs(shape, catalogue->pdata[i]);
    guint next = next_here(b, here, 0), part = 0;
    do {
        GString *name = g_string_new(theme_sheet_name(shape->theme));
        g_string_append(name, shape->durations ? ", durations" : "");
        if (++part > 1)
            g_string_append_printf(name, " %u", part);
        next = add_sheet(b, shape, here, name->str, next);
        g_string_free(name, TRUE);
    } while (next < b->s->e->rows->len);
    g_free(here);
}

void booksheets_add(Bookframe *f, const Source *s, guint most) {
    Sheets b = {.f = f, .s = s, .most = most};
    b.groups = groups_new(s->e, s->network);
    for (Theme t = 0; t <= THEME_QUALITY; t++) {
        add_shape(&b, &(Shape){.theme = t});
        add_shape(&b, &(Shape){.theme = t, .durations = true});
    }
    groups_free(b.groups);
}
