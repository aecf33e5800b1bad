// SPDX-License-Identifier: GPL-3.0-or-later
// A measure over quarters.
#include "pack/exhibit_trend.h"

#include <math.h>

typedef struct {
    const Source *s;
    const Indicator *indicator;
    GArray *periods;     // guint
    const Estimate *all; // over the whole period
    WordsUnit unit;
    guint place;   // of the unit in the estimates' units
    guint lacking; // periods that the logs do not cover whole
} Trend;

static const char not_whole[] = "not whole";

static const Estimate *at(const Trend *t, guint k) {
    LookupKey key = lookup_key(t->indicator->name);
    key.unit = t->s->focus;
    key.period = (uint16_t)g_array_index(t->periods, guint, k);
    return lookup_row(t->s->lookup, &key);
}

static const char *period_name(const Trend *t, guint k) {
    return g_array_index(t->s->e->periods, Period, g_array_index(t->periods, guint, k)).name;
}

static bool whole(const Trend *t, guint k) {
    return !t->s->signals ||
           signal_whole(t->s->signals, t->place, g_array_index(t->periods, guint, k));
}

static Sheet *table(const Trend *t) {
    char *caption = g_strdup_printf("%s by quarter", t->indicator->title);
    Sheet *s = sheet_new(caption);
    sheet_column(s, "Quarter", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, t->indicator->title, SHEET_INTERVAL, t->unit);
    sheet_column(s, "Events", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(s, "Of", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(s, "Unknown", SHEET_NUMBER, WORDS_COUNT);
    if (t->lacking > 0)
        sheet_column(s, "Remark", SHEET_TEXT, WORDS_COUNT);
    for (guint k = 0; k < t->periods->len; k++) {
        const Estimate *r = at(t, k);
        sheet_text(s, period_name(t, k));
        sheet_interval(s, r->estimate, r->lower, r->upper);
        sheet_number(s, r->events);
        sheet_number(s, r->total);
        sheet_number(s, (double)r->unknown);
        if (t->lacking > 0)
            sheet_text(s, whole(t, k) ? "" : "logs not whole");
    }
    g_free(caption);
    return s;
}

static char *title(const Trend *t) {
    const guint last = t->periods->len - 1;
    const Estimate *r = at(t, last);
    const int decimals = words_decimals(t->unit, t->all->estimate);
    char *now = words_figure(t->unit, r->estimate, decimals),
         *all = words_value(t->indicator, t->all->estimate);
    char *text =
        t->indicator->measure == MEASURE_COUNT
            ? g_strdup_printf("%s: %s in %s", t->indicator->title, now, period_name(t, last))
            : g_strdup_printf("%s: %s in %s, %s over all", t->indicator->title, now,
                              period_name(t, last), all);
    g_free(now);
    g_free(all);
    return text;
}

// A word at the first of the points running that stand on logs which are not whole; below the
// middle where the line is above it.
static void name_lacking(Chart *c, const Trend *t, double top) {
    for (guint k = 0; k < t->periods->len; k++) {
        if (whole(t, k) || (k > 0 && !whole(t, k - 1)))
            continue;
        const Estimate *r = at(t, k);
        const double low = isfinite(r->lower) ? r->lower : 0;
        const ChartPlace place = {.x = k,
                                  .y = low > 0.12 * top ? low - 0.05 * top
                                                        : fmax(r->upper, r->estimate) + 0.05 * top,
                                  .align = k == 0 ? "left" : "center",
                                  .colour = "ink",
                                  .size = 12};
        chart_label(c, &place, not_whole);
    }
}

static void quarter_tics(Chart *c, const Trend *t) {
    const char **names = g_new0(const char *, t->periods->len + 1);
    for (guint k = 0; k < t->periods->len; k++)
        names[k] = period_name(t, k);
    chart_periods(c, t->periods->len, names);
    g_free(names);
}

static Chart *draw(const Trend *t) {
    char *head = title(t);
    const bool percent = t->unit == WORDS_PERCENT, count = t->indicator->measure == MEASURE_COUNT;
    const ChartFrame frame = {exhibit_width(t->s), 48, 100, 10, 30, t->s->focus ? 90 : 140};
    char *ring = t->lacking ? g_strdup_printf(" Ring, %s: the logs do not cover the quarter whole.",
                                              not_whole)
                            : g_strdup("");
    char *how = g_strconcat("Band: interval of each quarter.",
                            count         ? ""
                            : t->s->focus ? " Dashed: this unit over all."
                                          : " Dashed: the network over all.",
                            ring, NULL);
    g_free(ring);
    Chart *c = chart_new("trend.gp", head, how, &frame);
    g_free(how);
    double highest = 0;
    for (guint k = 0; k < t->periods->len; k++) {
        const Estimate *r = at(t, k);
        const double row[] = {k,
                              r->estimate,
                              r->lower,
                              r->upper,
                              chart_where(whole(t, k), r->estimate),
                              chart_where(!whole(t, k), r->estimate)};
        chart_row(c, G_N_ELEMENTS(row), row);
        highest = fmax(highest, fmax(r->upper, r->estimate));
    }
    const double top = chart_steps(c, 'y', percent ? fmin(highest, 1) : highest, 5,
                                   percent ? 100 : 1, percent ? " %" : "");
    chart_range(c, 'y', 0, top);
    chart_range(c, 'x', -0.2, t->periods->len - 0.8);
    quarter_tics(c, t);
    name_lacking(c, t, top);
    if (!count) {
        chart_reference(c, 'y', t->all->estimate);
        char *value =
                 words_figure(t->unit, t->all->estimate, words_decimals(t->unit, t->all->estimate)),
             *text = g_strdup_printf(
                 "%s %s", t->s->focus || words_single(t->s->e) ? "all" : "network", value);
        const ChartPlace at_end = {.x = c->width - c->right + 6,
                                   .x_px = true,
                                   .y = t->all->estimate,
                                   .align = "left",
                                   .colour = "ink"};
        chart_label(c, &at_end, text);
        g_free(text);
        g_free(value);
    }
    c->finding = t->lacking
                     ? g_strdup_printf("Line chart. %s. Of %u quarter%s the logs are not whole.",
                                       head, t->lacking, t->lacking == 1 ? "" : "s")
                     : g_strdup_printf("Line chart. %s.", head);
    g_free(head);
    return c;
}

Exhibit *exhibit_trend_quarters(const Source *s, const ExhibitKind *kind) {
    LookupKey key = lookup_key(kind->indicator);
    key.unit = s->focus;
    Trend t = {.s = s,
               .indicator = lookup_indicator(s->lookup, kind->indicator),
               .periods = lookup_periods(s->lookup, PERIOD_QUARTER),
               .all = lookup_row(s->lookup, &key)};
    Exhibit *x = NULL;
    if (t.indicator && t.all && isfinite(t.all->estimate) && t.periods->len > 1 && at(&t, 0)) {
        t.unit = words_unit(t.indicator);
        while (g_array_index(s->e->units, uint16_t, t.place) != s->focus)
            t.place++;
        for (guint k = 0; k < t.periods->len; k++)
            t.lacking += !whole(&t, k);
        x = exhibit_new(kind, s->charts ? draw(&t) : NULL, table(&t));
    }
    g_array_unref(t.periods);
    return x;
}
