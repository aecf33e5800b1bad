// SPDX-License-Identifier: GPL-3.0-or-later
// Charts of a measure over time: where it leaves the limits that chance sets it, and whether it
// runs about its median as chance would.
#include "pack/exhibit_control.h"

#include <math.h>

typedef struct {
    const Source *s;
    const Series *series;
    const Indicator *indicator;
    WordsUnit unit;
    const GArray *points; // of SeriesPoint: the series' gaps where it has any, else its periods
    GPtrArray *names;     // char *: of each
} Control;

static const SeriesPoint *point(const Control *c, guint k) {
    return &g_array_index(c->points, SeriesPoint, k);
}

static const char *period_name(const Control *c, guint k) {
    return c->names->pdata[k];
}

static bool is_gaps(const Control *c) {
    return c->points == c->series->gaps;
}

// What gaps between rare events are counted in.
static const char *gap_unit(const Control *c) {
    return c->series->chart == SERIES_T ? "days" : "transfers";
}

static const char *word(const Control *c) {
    return c->series->unit ? "quarter" : "month";
}

static bool is_volume(const Control *c) {
    return c->indicator->measure == MEASURE_COUNT;
}

// Changes of this series that are called signals: GPtrArray of const Signal *.
static GPtrArray *signals_of(const Control *c) {
    GPtrArray *list = g_ptr_array_new();
    for (guint i = 0; i < c->s->signals->list->len; i++) {
        Signal *signal = c->s->signals->list->pdata[i];
        if (signal->kind != SIGNAL_LEVEL && signal->unit == c->series->unit &&
            signal->urgency == c->series->urgency && signal->indicator == c->series->indicator)
            g_ptr_array_add(list, signal);
    }
    return list;
}

static char *title(const Control *c, const GPtrArray *signals) {
    static const char *const kinds[] = {[SIGNAL_LEVEL] = "",
                                        [SIGNAL_TREND] = "a trend",
                                        [SIGNAL_SHIFT] = "a shift",
                                        [SIGNAL_POINT] = "a point out of line",
                                        [SIGNAL_CHANGE] = "a step"};
    GString *text = g_string_new(c->indicator->title);
    if (is_gaps(c))
        g_string_append_printf(text, ": %s from one to the next: ", gap_unit(c));
    else
        g_string_append_printf(text, " by %s: ", word(c));
    if (signals->len == 0)
        g_string_append(text, "no change beyond chance");
    for (guint i = 0; i < signals->len; i++) {
        const Signal *signal = signals->pdata[i];
        g_string_append_printf(text, "%s%s (%s)", i ? ", " : "", kinds[signal->kind],
                               signal_direction(signal->direction));
    }
    return g_string_free(text, FALSE);
}

// No measure is below 0, though limits that are as far below the middle as above it may be.
static double not_below_zero(double limit) {
    return limit < 0 ? 0 : limit;
}

static Sheet *table(const Control *c) {
    char *caption =
        is_gaps(c) ? g_strdup_printf("%s: %s from one to the next, with control limits",
                                     c->indicator->title, gap_unit(c))
                   : g_strdup_printf("%s by %s, with control limits", c->indicator->title, word(c));
    Sheet *s = sheet_new(caption);
    const WordsUnit unit = is_volume(c) ? WORDS_RATE : c->unit;
    sheet_column(s,
                 is_gaps(c)        ? "Up to"
                 : c->series->unit ? "Quarter"
                                   : "Month",
                 SHEET_TEXT, WORDS_COUNT);
    sheet_column(s,
                 is_gaps(c)     ? (c->series->chart == SERIES_T ? "Days" : "Transfers")
                 : is_volume(c) ? "A week"
                                : c->indicator->title,
                 SHEET_NUMBER, unit);
    const bool of = !is_gaps(c) && (c->series->chart == SERIES_P || c->series->chart == SERIES_XMR);
    if (of)
        sheet_column(s, "Of", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(s, "Lower limit", SHEET_NUMBER, unit);
    sheet_column(s, "Upper limit", SHEET_NUMBER, unit);
    sheet_column(s, "Remark", SHEET_TEXT, WORDS_COUNT);
    for (guint k = 0; k < c->points->len; k++) {
        const SeriesPoint *p = point(c, k);
        sheet_text(s, period_name(c, k));
        sheet_number(s, p->value);
        if (of)
            sheet_number(s, p->cell.total);
        sheet_number(s, not_below_zero(p->lower));
        sheet_number(s, p->upper);
        sheet_text(s, !p->whole ? "not covered whole" : p->beyond ? "outside the limits" : "");
    }
    g_free(caption);
    return s;
}

static double add_points(Chart *chart, const Control *c) {
    double highest = c->series->model.centre;
    for (guint k = 0; k < c->points->len; k++) {
        const SeriesPoint *p = point(c, k);
        const double row[] = {k,
                              p->value,
                              not_below_zero(p->lower),
                              p->upper,
                              chart_where(p->whole && !p->beyond, p->value),
                              chart_where(!p->whole, p->value),
                              chart_where(p->whole && p->beyond, p->value)};
        chart_row(chart, G_N_ELEMENTS(row), row);
        highest = fmax(highest, fmax(p->value, p->upper));
    }
    return highest;
}

// Axes that a measure of this unit is read on, from 0 to `highest`.
static void axes(Chart *chart, const Control *c, double highest) {
    const bool percent = c->unit == WORDS_PERCENT,
               hours = c->unit == WORDS_MINUTES && highest > 180;
    const double top = chart_steps(chart, 'y', percent ? fmin(highest, 1) : highest, 5,
                                   percent ? 100
                                   : hours ? 1.0 / 60
                                           : 1,
                                   percent                    ? " %"
                                   : hours                    ? " h"
                                   : c->unit == WORDS_MINUTES ? " min"
                                                              : "");
    chart_range(chart, 'y', 0, top);
    chart_range(chart, 'x', -0.3, c->points->len - 0.7);
    chart_periods(chart, c->names->len, (const char *const *)c->names->pdata);
}

// The middle line's value at its right end.
static void name_middle(Chart *chart, const Control *c, double middle, const char *word) {
    const WordsUnit unit = is_volume(c) ? WORDS_RATE : c->unit;
    char *value = words_figure(unit, middle, words_decimals(unit, middle)),
         *text = g_strdup_printf("%s%s%s", word, value, is_volume(c) ? " a week" : "");
    const ChartPlace at_end = {.x = chart->width - chart->right + 6,
                               .x_px = true,
                               .y = middle,
                               .align = "left",
                               .colour = "ink"};
    chart_label(chart, &at_end, text);
    g_free(text);
    g_free(value);
}

static ChartFrame frame_of(const Control *c) {
    return (ChartFrame){exhibit_width(c->s), 54, 84, 10, 30, c->s->focus ? 90 : 145};
}

// Whether a point is marked as outside the limits, or as not covered whole.
static bool any(const Control *c, bool outside) {
    for (guint k = 0; k < c->points->len; k++)
        if (outside ? point(c, k)->whole && point(c, k)->beyond : !point(c, k)->whole)
            return true;
    return false;
}

static Chart *draw(const Control *c, const char *head) {
    char *how =
        is_gaps(c)
            ? g_strdup_printf("Rare: each point is how many %s went by without one. Shaded: where "
                              "chance alone would keep the line.%s",
                              gap_unit(c), any(c, true) ? " Diamond: outside." : "")
            : g_strdup_printf("%sShaded: where chance alone would keep the line%s.%s%s",
                              is_volume(c) ? "A week, in each period. " : "",
                              c->series->chart == SERIES_XMR ? ", in periods of usual size" : "",
                              any(c, true) ? " Diamond: outside." : "",
                              any(c, false) ? " Ring: not covered whole by the logs." : "");
    const ChartFrame frame = frame_of(c);
    Chart *chart = chart_new("control.gp", head, how, &frame);
    axes(chart, c, add_points(chart, c));
    chart_set(chart, "centre", c->series->model.centre);
    name_middle(chart, c, c->series->model.centre, "");
    chart->told = true; // series.csv
    chart->finding = g_strdup_printf("Control chart. %s.", head);
    g_free(how);
    return chart;
}

static char *ratio(const ChangeTrend *t) {
    char text[3][G_ASCII_DTOSTR_BUF_SIZE];
    const double values[] = {t->ratio.estimate, t->ratio.lower, t->ratio.upper};
    for (int i = 0; i < 3; i++)
        g_ascii_formatd(text[i], sizeof text[i], "%.2f", values[i]);
    return isfinite(t->ratio.estimate) ? g_strdup_printf("%s (%s to %s)", text[0], text[1], text[2])
                                       : g_strdup("a number that is not known");
}

// Growth is not who sent in logs: the trend, and beside it that of the units that always did.
static char *growth(const Series *s, bool single) {
    char *all = ratio(&s->trend), *steady = ratio(&s->steady_trend);
    double unknown = 0;
    for (guint k = 0; k < s->points->len; k++)
        unknown += g_array_index(s->points, SeriesPoint, k).cell.unknown;
    char *text =
             g_strdup_printf("From one year to the next the number became %s times as large", all),
         *units = single
                      ? g_strdup("")
                      : g_strdup_printf("; for the %u unit%s with records in every month, %s "
                                        "times",
                                        s->steady_units, s->steady_units == 1 ? "" : "s", steady),
         *whole = g_strdup_printf("%s%s. Not known for %.0f.", text, units, unknown);
    g_free(text);
    g_free(units);
    g_free(all);
    g_free(steady);
    return whole;
}

static Exhibit *make(const Control *c, const ExhibitKind *kind) {
    GPtrArray *signals = signals_of(c);
    char *head = title(c, signals);
    const bool chart = c->s->charts && isfinite(c->series->model.centre);
    Exhibit *x = exhibit_new(kind, chart ? draw(c, head) : NULL, table(c));
    if (signals->len > 0)
        x->note = g_strdup(((Signal *)signals->pdata[0])->sentence);
    else if (is_volume(c) && c->series->steady_units > 0)
        x->note = growth(c->series, words_single(c->s->e));
    g_free(head);
    g_ptr_array_unref(signals);
    return x;
}

// ---- run chart ----

static char *run_title(const Control *c) {
    const Series *s = c->series;
    const char *mix = s->measure == CHANGE_MEDIAN ? ", urgencies together" : "";
    if (isnan(s->run_signal))
        return g_strdup_printf("%s by %s%s: too few points for the run rules", c->indicator->title,
                               word(c), mix);
    return g_strdup_printf("%s by %s%s: %s (longest run %zu, %zu crossings)", c->indicator->title,
                           word(c), mix, s->run_signal > 0 ? "a shift" : "no shift", s->run.longest,
                           s->run.crossings);
}

static char *run_rules(const Control *c) {
    const Series *s = c->series;
    if (isnan(s->run_signal))
        return g_strdup("Dashed: the median. Ring: not covered whole by the logs.");
    return g_strdup_printf(
        "Dashed: the median. A shift shows as more than %.0f %ss running on one side of it, or "
        "fewer than %.0f crossings, among the %zu that lie off it.",
        s->longest_limit, word(c), s->crossings_limit, s->run.useful);
}

static Sheet *run_table(const Control *c) {
    char *caption = g_strdup_printf("%s by %s, about the median", c->indicator->title, word(c));
    Sheet *s = sheet_new(caption);
    sheet_column(s, c->series->unit ? "Quarter" : "Month", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, c->indicator->title, SHEET_NUMBER, c->unit);
    sheet_column(s, "Side of the median", SHEET_TEXT, WORDS_COUNT);
    for (guint k = 0; k < c->points->len; k++) {
        const SeriesPoint *p = point(c, k);
        const double median = c->series->run.median;
        sheet_text(s, period_name(c, k));
        sheet_number(s, p->value);
        sheet_text(s, !p->whole           ? "not covered whole"
                      : p->value > median ? "above"
                      : p->value < median ? "below"
                      : isnan(p->value)   ? ""
                                          : "on it");
    }
    g_free(caption);
    return s;
}

static Chart *run_draw(const Control *c) {
    char *head = run_title(c), *how = run_rules(c);
    const ChartFrame frame = frame_of(c);
    Chart *chart = chart_new("run.gp", head, how, &frame);
    double highest = c->series->run.median;
    for (guint k = 0; k < c->points->len; k++) {
        const SeriesPoint *p = point(c, k);
        const double row[] = {k, p->value, chart_where(p->whole, p->value),
                              chart_where(!p->whole, p->value)};
        chart_row(chart, G_N_ELEMENTS(row), row);
        highest = fmax(highest, p->value);
    }
    axes(chart, c, highest);
    chart_set(chart, "median", c->series->run.median);
    name_middle(chart, c, c->series->run.median, "");
    chart->told = true; // series.csv
    chart->finding = g_strdup_printf("Run chart. %s. %s", head, how);
    g_free(head);
    g_free(how);
    return chart;
}

// The series of the kind's indicator that has a middle line; NULL if there is none. Where one unit
// sent all, its own is the network's, of which signals tell.
static const Series *series_of(const Source *s, const ExhibitKind *kind) {
    const uint16_t unit = words_single(s->e) ? 0 : s->focus;
    for (guint i = 0; s->signals && i < s->signals->series->len; i++) {
        const Series *series = s->signals->series->pdata[i];
        const Indicator *indicator = s->e->catalogue->pdata[series->indicator];
        if (series->unit == unit && series->urgency == 0 &&
            g_str_equal(indicator->name, kind->indicator) && series->points->len > 1 &&
            isfinite(series->model.centre))
            return series;
    }
    return NULL;
}

// What is to be freed with g_ptr_array_unref(control.names).
static Control control_of(const Source *s, const Series *series, const GArray *points) {
    const Indicator *indicator = s->e->catalogue->pdata[series->indicator];
    const bool gaps = points == series->gaps;
    Control c = {s,         series,
                 indicator, gaps ? WORDS_COUNT : words_unit(indicator),
                 points,    g_ptr_array_new_with_free_func(g_free)};
    for (guint k = 0; k < points->len; k++) {
        int year, month, day;
        when_civil(point(&c, k)->day, &year, &month, &day);
        g_ptr_array_add(
            c.names,
            gaps ? g_strdup_printf("%04d-%02d-%02d", year, month, day)
                 : g_strdup(g_array_index(s->e->periods, Period, point(&c, k)->period).name));
    }
    return c;
}

Exhibit *exhibit_control_chart(const Source *s, const ExhibitKind *kind) {
    const Series *series = series_of(s, kind);
    if (!series)
        return NULL;
    Control c = control_of(s, series, series->gaps ? series->gaps : series->points);
    Exhibit *x = make(&c, kind);
    g_ptr_array_unref(c.names);
    return x;
}

Exhibit *exhibit_control_run(const Source *s, const ExhibitKind *kind) {
    const Series *series = series_of(s, kind);
    if (!series || !isfinite(series->run.median))
        return NULL;
    Control c = control_of(s, series, series->points);
    Exhibit *x = exhibit_new(kind, s->charts ? run_draw(&c) : NULL, run_table(&c));
    g_ptr_array_unref(c.names);
    return x;
}
