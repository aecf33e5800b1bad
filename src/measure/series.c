// SPDX-License-Identifier: GPL-3.0-or-later
// Cells of months, quarters and years -> series and their tests.
#include "measure/series.h"

#include "base/parallel.h"
#include "measure/gathering.h"
#include "measure/rare.h"
#include "stats/quantile.h"

#include <math.h>
#include <string.h>

// What is alike for all series.
typedef struct {
    const GatheringFrame *frame;
    const GPtrArray *catalogue;
    Tally *const *tally; // by indicator
    double confidence;
    SeriesDone done;
    void *user;
    GPtrArray *result;
} Maker;

static const SeriesStep no_step = {.step = {NAN, NAN, {NAN, NAN, NAN}, NAN, 0, NAN}};

// Whether an indicator has series: shares, rates (but those in calendar time, whose counts are
// there), durations and counts.
static bool has_series(const Indicator *in) {
    return in->measure == MEASURE_SHARE || in->measure == MEASURE_QUANTILE ||
           in->measure == MEASURE_COUNT ||
           (in->measure == MEASURE_RATE && in->exposure != EXPOSURE_WEEKS);
}

static const Period *period_at(const Maker *m, guint index) {
    return &g_array_index(m->frame->data->periods, Period, index);
}

// ---- steps ----

static bool in_span(const Maker *m, const Period *p) {
    const Period *span = period_at(m, 0);
    return p->first < span->end && p->end > span->first;
}

// The last whole period of a list within the span against the one `back` before it.
static SeriesStep find_step(const Maker *m, const Gathering *g, guint line, const GArray *list,
                            guint back, double dispersion, double spread) {
    const unsigned place = gathering_place(m->frame, line);
    SeriesStep step = no_step;
    guint now = list->len;
    while (now > 0) {
        const Period *p = period_at(m, g_array_index(list, guint, now - 1));
        if (in_span(m, p) && coverage_whole(m->frame->coverage, place, p))
            break;
        now--;
    }
    if (now <= back)
        return step;
    step.now = g_array_index(list, guint, now - 1);
    step.then = g_array_index(list, guint, now - 1 - back);
    step.now_cell = gathering_cell(g, line, step.now);
    step.then_cell = gathering_cell(g, line, step.then);
    step.spread = spread;
    step.step = spread > 0 ? change_between_spread(g->measure, &step.now_cell, &step.then_cell,
                                                   spread, m->confidence)
                           : change_between(g->measure, &step.now_cell, &step.then_cell, dispersion,
                                            m->confidence);
    return step;
}

static void find_steps(const Maker *m, const Gathering *g, guint line, Series *s) {
    const double dispersion = MAX(1, s->model.sigma * s->model.sigma);
    s->quarter = find_step(m, g, line, m->frame->quarters, 1, dispersion, 0);
    s->year_ago = find_step(m, g, line, m->frame->quarters, 4, dispersion, 0);
    ChangeCell *cells;
    const ChangeSeries c = series_cells(s, &cells);
    s->year = find_step(m, g, line, m->frame->years, 1, dispersion, change_spread(&c, &s->model));
    g_free(cells);
}

// ---- tests ----

ChangeSeries series_cells(const Series *s, ChangeCell **cells) {
    *cells = g_new(ChangeCell, s->points->len + 1);
    for (guint i = 0; i < s->points->len; i++)
        (*cells)[i] = g_array_index(s->points, SeriesPoint, i).cell;
    return (ChangeSeries){s->measure, *cells, s->points->len, s->per_year, NULL};
}

double *series_levels(ChangeSeries *series) {
    double *level = g_new(double, series->k + 1);
    change_levels(series, level);
    series->level = level;
    return level;
}

double series_pooled(const ChangeSeries *series, size_t from, size_t to) {
    ChangeCell sum = {0};
    double *values = g_new(double, series->k + 1), *level = g_new(double, series->k + 1);
    size_t n = 0;
    change_levels(series, level);
    for (size_t i = from; i < to; i++)
        if (series->cell[i].whole) {
            sum.events += series->cell[i].events;
            sum.total += series->cell[i].total;
            if (series->measure == CHANGE_MEDIAN && !isnan(level[i]))
                values[n++] = level[i];
        }
    quantile_sort(values, n);
    const double value = series->measure == CHANGE_MEDIAN ? quantile_hf2(values, n, 0.5)
                         : sum.total > 0                  ? sum.events / sum.total
                                                          : NAN;
    g_free(values);
    g_free(level);
    return value;
}

// The run chart of the values themselves.
static void draw_runs(Series *s) {
    double *value = g_new(double, s->points->len + 1);
    for (guint i = 0; i < s->points->len; i++) {
        const SeriesPoint *p = &g_array_index(s->points, SeriesPoint, i);
        value[i] = p->whole ? p->value : NAN;
    }
    s->run = run_chart(value, s->points->len);
    s->longest_limit = run_chart_longest_limit(s->run.useful);
    s->crossings_limit = run_chart_crossings_limit(s->run.useful);
    s->run_signal = run_chart_signal(&s->run);
    g_free(value);
}

static void test(Series *s, double confidence) {
    ChangeCell *cells;
    size_t at = 0;
    ChangeSeries c = series_cells(s, &cells);
    double *level = series_levels(&c);
    s->model = change_model(&c);
    s->p_point = change_point(&c, &at);
    s->at = (guint)at;
    s->p_shift = change_shift(&c, &s->levels, &s->side);
    draw_runs(s);
    s->trend = change_trend(&c, confidence);
    s->earlier = series_pooled(&c, 0, c.k / 2);
    s->later = series_pooled(&c, c.k / 2, c.k);
    s->side = (s->later > s->earlier) - (s->later < s->earlier);
    for (size_t i = 0; i < c.k; i++) {
        SeriesPoint *p = &g_array_index(s->points, SeriesPoint, i);
        const StatsInterval limits = change_limits(&c, &s->model, &p->cell);
        p->lower = limits.lower;
        p->upper = limits.upper;
        p->beyond = p->whole && (p->value < p->lower || p->value > p->upper);
    }
    g_free(level);
    g_free(cells);
}

// The volume of the units whose logs have records in every month that all logs together cover.
static void find_steady(const Maker *m, const Gathering *g, Series *s) {
    const Coverage *coverage = m->frame->coverage;
    GArray *months = g_array_new(FALSE, FALSE, sizeof(guint));
    ChangeCell *cells;
    const ChangeSeries c = series_cells(s, &cells);
    for (size_t i = 0; i < c.k; i++) {
        const guint period = g_array_index(s->points, SeriesPoint, i).period;
        const Period *p = period_at(m, period);
        cells[i].whole = coverage_together(coverage, p);
        if (cells[i].whole)
            cells[i].total = (period_first_day(p->end) - period_first_day(p->first)) / 7.0;
        if (cells[i].whole)
            g_array_append_val(months, period);
        cells[i].events = 0;
    }
    for (guint u = 1; u < m->frame->data->units->len && months->len > 0; u++) {
        if (!coverage_every_month(coverage, u, months))
            continue;
        s->steady_units++;
        for (size_t i = 0; i < c.k; i++)
            cells[i].events +=
                gathering_in_month(g, u, g_array_index(s->points, SeriesPoint, i).period);
    }
    if (s->steady_units > 0)
        s->steady_trend = change_trend(&c, m->confidence);
    g_array_unref(months);
    g_free(cells);
}

// The durations take the room of the records; without them a series keeps what was found.
static void forget_cell(ChangeCell *cell) {
    cell->minutes.k = 0;
    cell->within = NULL;
    cell->unknown_within = NULL;
}

static void forget(Series *s) {
    for (guint i = 0; i < s->points->len; i++)
        forget_cell(&g_array_index(s->points, SeriesPoint, i).cell);
    SeriesStep *const steps[] = {&s->quarter, &s->year_ago, &s->year};
    for (size_t i = 0; i < G_N_ELEMENTS(steps); i++) {
        forget_cell(&steps[i]->now_cell);
        forget_cell(&steps[i]->then_cell);
    }
}

// ---- the series ----

static void free_series(gpointer data) {
    Series *s = data;
    g_array_unref(s->points);
    if (s->gaps)
        g_array_unref(s->gaps);
    g_free(s);
}

static Series *series_new(const Gathering *g, guint index, uint16_t unit) {
    Series *s = g_new0(Series, 1);
    *s = (Series){.indicator = (uint16_t)index,
                  .unit = unit,
                  .chart = g->measure == CHANGE_SHARE    ? SERIES_P
                           : g->measure == CHANGE_MEDIAN ? SERIES_XMR
                                                         : SERIES_U,
                  .measure = g->measure,
                  .per_year = unit == 0 ? 12 : 4,
                  .points = g_array_new(FALSE, FALSE, sizeof(SeriesPoint)),
                  .steady_trend = {{NAN, NAN, NAN}, NAN, 0}};
    return s;
}

static void add_series(const Maker *m, const Gathering *g, guint index, guint line) {
    const GArray *list = gathering_periods(m->frame, line);
    const CountData *data = m->frame->data;
    const unsigned place = gathering_place(m->frame, line);
    Series *s = series_new(g, index, g_array_index(data->units, uint16_t, place));
    s->urgency = gathering_urgency(m->frame, line);
    for (guint i = 0; i < list->len; i++) {
        const guint period = g_array_index(list, guint, i);
        if (!in_span(m, period_at(m, period)))
            continue;
        const ChangeCell cell = gathering_cell(g, line, period);
        const SeriesPoint point = {.period = period,
                                   .value = change_value(g->measure, &cell),
                                   .whole = cell.whole,
                                   .cell = cell};
        g_array_append_val(s->points, point);
    }
    test(s, m->confidence);
    find_steps(m, g, line, s);
    if (line == 0 && g->measure == CHANGE_VOLUME)
        find_steady(m, g, s);
    if (place == 0 && (g->measure == CHANGE_SHARE || g->measure == CHANGE_RATE) && rare_is(s))
        rare_chart(data, g->in, s);
    m->done(s, m->user);
    forget(s);
    g_ptr_array_add(m->result, s);
}

// Everything of one indicator.
static void make(const Maker *m, guint index) {
    const Indicator *in = m->catalogue->pdata[index];
    const guint units = m->frame->data->units->len;
    Gathering *g = gathering_new(m->frame, in, m->tally[index]);
    add_series(m, g, index, 0);
    for (guint line = units; line < g->lines; line++)
        add_series(m, g, index, line);
    for (guint u = 1; u < units; u++)
        if (catalogue_judges(in) || in->measure == MEASURE_COUNT)
            add_series(m, g, index, u);
    gathering_free(g);
}

typedef struct {
    const Maker *maker;
    GPtrArray **result; // by indicator
} Jobs;

static void job(unsigned i, void *user) {
    const Jobs *jobs = user;
    Maker m = *jobs->maker;
    m.result = jobs->result[i] = g_ptr_array_new();
    if (m.frame->months->len > 0 && has_series(m.catalogue->pdata[i]))
        make(&m, i);
}

GPtrArray *series_all(const SeriesSource *source, SeriesDone done, void *user) {
    const GPtrArray *catalogue = source->counted->catalogue;
    GatheringFrame *frame = gathering_frame_new(source->counted->data, source->coverage);
    const Maker m = {.frame = frame,
                     .catalogue = catalogue,
                     .tally = source->counted->tally,
                     .confidence = source->confidence,
                     .done = done,
                     .user = user};
    Jobs jobs = {&m, g_new0(GPtrArray *, catalogue->len + 1)};
    parallel_each(catalogue->len, source->threads, job, &jobs);
    GPtrArray *all = g_ptr_array_new_with_free_func(free_series);
    for (guint k = 0; k < catalogue->len; k++)
        g_ptr_array_extend_and_steal(all, jobs.result[k]);
    g_free(jobs.result);
    gathering_frame_free(frame);
    return all;
}
