// SPDX-License-Identifier: GPL-3.0-or-later
// Control charts: where a measure leaves the limits that chance sets it.
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
            signal->indicator == c->series->indicator)
            g_ptr_array_add(list, signal);
    }
    return list;
}

static char *title(const Control *c, const GPtrArray *signals) {
    static const char *const kinds[] = {[SIGNAL_LEVEL] = "",
                                        [SIGNAL_TREND] = "a trend",
                                        [SIGNAL_SHIFT] = "a shift",
                                        [SIGNAL_POINT] = "a point out of line",
                                        [SIGNAL_CHANGE] = "a step between quarters"};
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

static Chart *draw(const Control *c, const char *head) {
    static const ChartFrame frame = {52, 84, 12, 36, 240};
    const bool percent = c->unit == WORDS_PERCENT;
    Chart *chart = chart_new(
        "control.gp", head,
        "Shaded: where chance alone would keep the line. Diamond: outside. Ring: not covered "
        "whole by the logs.",
        &frame);
    const double highest = add_points(chart, c);
    const double top =
        chart_steps(chart, 'y', percent ? fmin(highest, 1) : highest, 5, percent ? 100 : 1,
                    percent                    ? " %"
                    : c->unit == WORDS_MINUTES ? " min"
                                               : "");
    chart_range(chart, 'y', 0, top);
    chart_range(chart, 'x', -0.3, c->series->points->len - 0.7);
    tics(chart, c);
    chart_set(chart, "centre", c->series->model.centre);
    const WordsUnit unit = is_volume(c) ? WORDS_RATE : c->unit;
    char *value = words_figure(unit, c->series->model.centre,
                               words_decimals(unit, c->series->model.centre)),
         *text = g_strdup_printf("%s%s", value, is_volume(c) ? " a week" : "");
    const ChartPlace at_end = {.x = CHART_WIDTH - 78,
                               .x_px = true,
                               .y = c->series->model.centre,
                               .align = "left",
                               .colour = "ink"};
    chart_label(chart, &at_end, text);
    chart->finding = g_strdup_printf("Control chart. %s.", head);
    g_free(text);
    g_free(value);
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

Exhibit *exhibit_control_chart(const Source *s, const ExhibitKind *kind) {
    for (guint i = 0; s->signals && i < s->signals->series->len; i++) {
        const Series *series = s->signals->series->pdata[i];
        const Control c = {s, series, s->e->catalogue->pdata[series->indicator],
                           words_unit(s->e->catalogue->pdata[series->indicator])};
        if (series->unit == s->focus && g_str_equal(c.indicator->name, kind->indicator) &&
            series->points->len > 1 && isfinite(series->model.centre))
            return make(&c, kind);
    }
    return NULL;
}
