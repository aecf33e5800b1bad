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
} Control;

static const SeriesPoint *point(const Control *c, guint k) {
    return &g_array_index(c->series->points, SeriesPoint, k);
}

static const char *period_name(const Control *c, guint k) {
    return g_array_index(c->s->e->periods, Period, point(c, k)->period).name;
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

static Sheet *table(const Control *c) {
    char *caption = g_strdup_printf("%s by %s, with control limits", c->indicator->title, word(c));
    Sheet *s = sheet_new(caption);
    const WordsUnit unit = is_volume(c) ? WORDS_RATE : c->unit;
    sheet_column(s, c->series->unit ? "Quarter" : "Month", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, is_volume(c) ? "A week" : c->indicator->title, SHEET_NUMBER, unit);
    sheet_column(s, "Lower limit", SHEET_NUMBER, unit);
    sheet_column(s, "Upper limit", SHEET_NUMBER, unit);
    sheet_column(s, "Remark", SHEET_TEXT, WORDS_COUNT);
    for (guint k = 0; k < c->series->points->len; k++) {
        const SeriesPoint *p = point(c, k);
        sheet_text(s, period_name(c, k));
        sheet_number(s, p->value);
        sheet_number(s, p->lower);
        sheet_number(s, p->upper);
        sheet_text(s, !p->whole ? "not covered whole" : p->beyond ? "outside the limits" : "");
    }
    g_free(caption);
    return s;
}

static void tics(Chart *chart, const Control *c) {
    const guint n = c->series->points->len, step = (n + 7) / 8;
    double *at = g_new(double, n);
    const char **text = g_new0(const char *, n);
    guint shown = 0;
    for (guint k = 0; k < n; k++)
        if ((n - 1 - k) % step == 0) {
            at[shown] = k;
            text[shown++] = period_name(c, k);
        }
    chart_tics(chart, 'x', shown, at, text);
    g_free(at);
    g_free(text);
}

static double add_points(Chart *chart, const Control *c) {
    double highest = c->series->model.centre;
    for (guint k = 0; k < c->series->points->len; k++) {
        const SeriesPoint *p = point(c, k);
        const double row[] = {k, p->value, fmax(p->lower, 0), p->upper,
                              !p->whole   ? 2
                              : p->beyond ? 1
                                          : 0};
        chart_row(chart, 5, row);
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
    chart_range(chart, 'x', -0.3, c->series->points->len - 0.7);
    tics(chart, c);
}

// The middle line's value at its right end.
static void name_middle(Chart *chart, const Control *c, double middle, const char *word) {
    const WordsUnit unit = is_volume(c) ? WORDS_RATE : c->unit;
    char *value = words_figure(unit, middle, words_decimals(unit, middle)),
         *text = g_strdup_printf("%s%s%s", word, value, is_volume(c) ? " a week" : "");
    const ChartPlace at_end = {
        .x = CHART_WIDTH - 78, .x_px = true, .y = middle, .align = "left", .colour = "ink"};
    chart_label(chart, &at_end, text);
    g_free(text);
    g_free(value);
}

static const ChartFrame frame = {58, 84, 12, 36, 240};

static Chart *draw(const Control *c, const char *head) {
    char *how = g_strdup_printf("%sShaded: where chance alone would keep the line. Diamond: "
                                "outside. Ring: not covered whole by the logs.",
                                is_volume(c) ? "A week, in each period. " : "");
    Chart *chart = chart_new("control.gp", head, how, &frame);
    axes(chart, c, add_points(chart, c));
    chart_set(chart, "centre", c->series->model.centre);
    name_middle(chart, c, c->series->model.centre, "");
    chart->finding = g_strdup_printf("Control chart. %s.", head);
    g_free(how);
    return chart;
}

static Exhibit *make(const Control *c, const ExhibitKind *kind) {
    GPtrArray *signals = signals_of(c);
    char *head = title(c, signals);
    const bool chart = c->s->charts && isfinite(c->series->model.centre);
    Exhibit *x = exhibit_new(kind, chart ? draw(c, head) : NULL, table(c));
    if (signals->len > 0)
        x->note = g_strdup(((Signal *)signals->pdata[0])->sentence);
    g_free(head);
    g_ptr_array_unref(signals);
    return x;
}

// ---- run chart ----

static char *run_title(const Control *c) {
    const Series *s = c->series;
    if (isnan(s->run_signal))
        return g_strdup_printf("%s by %s: too few points for the run rules", c->indicator->title,
                               word(c));
    return g_strdup_printf("%s by %s: %s (longest run %zu, %zu crossings)", c->indicator->title,
                           word(c), s->run_signal > 0 ? "a shift" : "no shift", s->run.longest,
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
    for (guint k = 0; k < c->series->points->len; k++) {
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
    Chart *chart = chart_new("run.gp", head, how, &frame);
    double highest = c->series->run.median;
    for (guint k = 0; k < c->series->points->len; k++) {
        const SeriesPoint *p = point(c, k);
        const double row[] = {k, p->value, p->whole ? 0 : 2};
        chart_row(chart, 3, row);
        highest = fmax(highest, p->value);
    }
    axes(chart, c, highest);
    chart_set(chart, "median", c->series->run.median);
    name_middle(chart, c, c->series->run.median, "");
    chart->finding = g_strdup_printf("Run chart. %s. %s", head, how);
    g_free(head);
    g_free(how);
    return chart;
}

// The series of the kind's indicator that has a middle line; NULL if there is none.
static const Series *series_of(const Source *s, const ExhibitKind *kind) {
    for (guint i = 0; s->signals && i < s->signals->series->len; i++) {
        const Series *series = s->signals->series->pdata[i];
        const Indicator *indicator = s->e->catalogue->pdata[series->indicator];
        if (series->unit == s->focus && series->urgency == 0 &&
            g_str_equal(indicator->name, kind->indicator) && series->points->len > 1 &&
            isfinite(series->model.centre))
            return series;
    }
    return NULL;
}

static Control control_of(const Source *s, const Series *series) {
    const Indicator *indicator = s->e->catalogue->pdata[series->indicator];
    return (Control){s, series, indicator, words_unit(indicator)};
}

Exhibit *exhibit_control_chart(const Source *s, const ExhibitKind *kind) {
    const Series *series = series_of(s, kind);
    if (!series)
        return NULL;
    const Control c = control_of(s, series);
    return make(&c, kind);
}

Exhibit *exhibit_control_run(const Source *s, const ExhibitKind *kind) {
    const Series *series = series_of(s, kind);
    if (!series || !isfinite(series->run.median))
        return NULL;
    const Control c = control_of(s, series);
    return exhibit_new(kind, s->charts ? run_draw(&c) : NULL, run_table(&c));
}
