// SPDX-License-Identifier: GPL-3.0-or-later
// Records -> cells of months and quarters -> series and their tests.
#include "measure/series.h"

#include "base/parallel.h"
#include "measure/coverage.h"
#include "measure/durations.h"
#include "measure/judged.h"
#include "measure/rare.h"
#include "stats/quantile.h"

#include <math.h>
#include <string.h>

// What is alike for all series.
typedef struct {
    const CountData *data;
    const GPtrArray *catalogue;
    Coverage *coverage;
    GArray *months, *quarters; // guint: periods of that kind
    double confidence;
    GPtrArray *result;
} Maker;

// Sums of one indicator: [0]: the network by month, [place]: a unit by quarter.
typedef struct {
    const Indicator *in;
    ChangeMeasure measure;
    ChangeCell **cell;    // by place, by month or quarter
    ChangeCell **monthly; // of counts: by place, by month; NULL otherwise
    Runs *quarter;        // of durations: the network's, by quarter; NULL otherwise
    GPtrArray *kept;      // what durations stand in
} Gathered;

static const SeriesStep no_step = {.step = {NAN, NAN, {NAN, NAN, NAN}, NAN}};

static ChangeMeasure measure_of(const Indicator *in) {
    return in->measure == MEASURE_SHARE   ? CHANGE_SHARE
           : in->measure == MEASURE_RATE  ? CHANGE_RATE
           : in->measure == MEASURE_COUNT ? CHANGE_VOLUME
                                          : CHANGE_MEDIAN;
}

static bool has_series(const Indicator *in) {
    return in->measure == MEASURE_SHARE || in->measure == MEASURE_QUANTILE ||
           in->measure == MEASURE_COUNT ||
           (in->measure == MEASURE_RATE && in->exposure != EXPOSURE_WEEKS);
}

static const Period *period_at(const Maker *m, guint index) {
    return &g_array_index(m->data->periods, Period, index);
}

static GArray *periods_of(const CountData *data, PeriodKind kind) {
    GArray *list = g_array_new(FALSE, FALSE, sizeof(guint));
    for (guint p = 0; p < data->periods->len; p++)
        if (g_array_index(data->periods, Period, p).kind == kind)
            g_array_append_val(list, p);
    return list;
}

// ---- gathering ----

static Gathered gathered_new(const Maker *m, const Indicator *in) {
    const guint places = m->data->units->len;
    Gathered g = {in,   measure_of(in), g_new0(ChangeCell *, places),
                  NULL, NULL,           g_ptr_array_new_with_free_func(g_free)};
    if (g.measure == CHANGE_MEDIAN)
        g.quarter = g_new0(Runs, m->quarters->len + 1);
    if (g.measure == CHANGE_VOLUME)
        g.monthly = g_new0(ChangeCell *, places);
    for (guint u = 0; u < places; u++) {
        const guint k = u == 0 ? m->months->len : m->quarters->len;
        g.cell[u] = g_new0(ChangeCell, k + 1);
        if (g.monthly)
            g.monthly[u] = g_new0(ChangeCell, m->months->len + 1);
    }
    return g;
}

static void gathered_clear(const Maker *m, Gathered *g) {
    for (guint u = 0; u < m->data->units->len; u++) {
        g_free(g->cell[u]);
        if (g->monthly)
            g_free(g->monthly[u]);
    }
    g_free(g->cell);
    g_free(g->monthly);
    g_free(g->quarter);
    g_ptr_array_unref(g->kept);
}

static void add(const Gathered *g, unsigned place, int slot, const CountRecord *r) {
    ChangeCell *cell = &g->cell[place][slot];
    if (r->state != COUNT_IN) {
        cell->unknown++;
        return;
    }
    if (g->measure == CHANGE_MEDIAN) // these are dealt
        return;
    const double k = g->measure == CHANGE_VOLUME ? 1 : r->events;
    const double exposure = g->in->exposure == EXPOSURE_HOURS ? r->exposure / 60 : r->exposure;
    cell->records += g->measure == CHANGE_RATE;
    cell->events += k;
    cell->squares += k * k;
    cell->total += g->measure == CHANGE_SHARE  ? 1
                   : g->measure == CHANGE_RATE ? exposure / g->in->per
                                               : 0;
}

static void add_record(const Maker *m, const Gathered *g, size_t row, const CountRecord *r,
                       uint8_t judged) {
    const CountData *d = m->data;
    const uint16_t month = d->month[row];
    const unsigned place = d->place[transfers_units(d->t, FIELD_sending_unit)[row]];
    const int slot = d->slot[PERIOD_MONTH][month] - (int)g_array_index(m->months, guint, 0);
    const int quarter = d->slot[PERIOD_QUARTER][month] - (int)g_array_index(m->quarters, guint, 0);
    if (r->state == COUNT_OUT)
        return;
    add(g, 0, slot, r);
    if (g->monthly && r->state == COUNT_IN)
        g->monthly[place][slot].events++;
    CountRecord own = *r;
    own.state = MIN(own.state, judged); // a condition's value is a state (judged.c)
    if (own.state != COUNT_OUT)
        add(g, place, quarter, &own);
}

static void gather(const Maker *m, const Gathered *g) {
    const bool narrow = judged_is(g->in);
    Condition *judged = narrow ? condition_parse(g->in->compare, NULL) : NULL;
    CountRecord record[COUNT_BLOCK];
    uint8_t condition[COUNT_BLOCK];
    memset(condition, CONDITION_TRUE, sizeof condition);
    for (size_t first = 0; first < m->data->t->n; first += COUNT_BLOCK) {
        const size_t n = MIN((size_t)COUNT_BLOCK, m->data->t->n - first);
        count_records(m->data, g->in, first, n, record);
        if (judged)
            condition_fill(judged, m->data->t, first, n, condition);
        for (size_t i = 0; i < n; i++)
            add_record(m, g, first + i, &record[i], condition[i]);
    }
    if (judged)
        condition_free(judged);
}

typedef struct {
    const Maker *m;
    const Gathered *g;
} Dealt;

static void take_minutes(void *user, const DurationsCell *c) {
    const Dealt *d = user;
    double *room;
    const Runs minutes = durations_keep(c->minutes, &room);
    g_ptr_array_add(d->g->kept, room);
    const guint month = c->period - g_array_index(d->m->months, guint, 0);
    const guint quarter = c->period - g_array_index(d->m->quarters, guint, 0);
    if (c->place > 0)
        d->g->cell[c->place][quarter].minutes = minutes;
    else if (period_at(d->m, c->period)->kind == PERIOD_MONTH)
        d->g->cell[0][month].minutes = minutes;
    else
        d->g->quarter[quarter] = minutes;
}

static void gather_minutes(const Maker *m, const Gathered *g) {
    static const DurationsFace faces[] = {{false, -1, PERIOD_MONTH, false},
                                          {false, -1, PERIOD_QUARTER, false},
                                          {true, -1, PERIOD_QUARTER, true}};
    Dealt d = {m, g};
    durations_deal(m->data, g->in, faces, judged_is(g->in) ? 3 : 2, take_minutes, &d);
}

// Weeks that a volume is counted over: of a whole period all, even where its last months have no
// record.
static double weeks_of(const Maker *m, const Period *p, bool whole) {
    return whole ? (period_first_day(p->end) - period_first_day(p->first)) / 7.0
                 : count_weeks(m->data, p);
}

static void finish(const Maker *m, const Gathered *g, unsigned place) {
    const GArray *list = place == 0 ? m->months : m->quarters;
    for (guint i = 0; i < list->len; i++) {
        const Period *p = period_at(m, g_array_index(list, guint, i));
        ChangeCell *cell = &g->cell[place][i];
        cell->whole = coverage_whole(m->coverage, place, p);
        if (g->measure == CHANGE_VOLUME)
            cell->total = weeks_of(m, p, cell->whole);
    }
}

// ---- quarters ----

// Cell of a quarter: a unit's own, the network's from its months.
static ChangeCell quarter_cell(const Maker *m, const Gathered *g, unsigned place, guint quarter) {
    if (place > 0)
        return g->cell[place][quarter];
    const Period *q = period_at(m, g_array_index(m->quarters, guint, quarter));
    ChangeCell sum = {.whole = coverage_whole(m->coverage, 0, q)};
    for (guint i = 0; i < m->months->len; i++) {
        const Period *p = period_at(m, g_array_index(m->months, guint, i));
        const ChangeCell *cell = &g->cell[0][i];
        if (p->first < q->first || p->first >= q->end)
            continue;
        sum.events += cell->events;
        sum.total += cell->total;
        sum.squares += cell->squares;
        sum.unknown += cell->unknown;
        sum.records += cell->records;
    }
    if (g->measure == CHANGE_VOLUME)
        sum.total = weeks_of(m, q, sum.whole);
    if (g->quarter)
        sum.minutes = g->quarter[quarter];
    return sum;
}

static bool in_span(const Maker *m, const Period *p) {
    const Period *span = period_at(m, 0);
    return p->first < span->end && p->end > span->first;
}

static SeriesStep step_between(const Maker *m, const Gathered *g, unsigned place, guint now,
                               guint back, double dispersion) {
    SeriesStep step = no_step;
    if (now < back)
        return step;
    step.now_cell = quarter_cell(m, g, place, now);
    step.then_cell = quarter_cell(m, g, place, now - back);
    step.step =
        change_between(g->measure, &step.now_cell, &step.then_cell, dispersion, m->confidence);
    step.now = g_array_index(m->quarters, guint, now);
    step.then = g_array_index(m->quarters, guint, now - back);
    return step;
}

static void find_steps(const Maker *m, const Gathered *g, unsigned place, Series *s) {
    const double dispersion = MAX(1, s->model.sigma * s->model.sigma);
    guint now = m->quarters->len;
    while (now > 0) {
        const Period *q = period_at(m, g_array_index(m->quarters, guint, now - 1));
        if (in_span(m, q) && coverage_whole(m->coverage, place, q))
            break;
        now--;
    }
    s->quarter = s->year = no_step;
    if (now == 0)
        return;
    s->quarter = step_between(m, g, place, now - 1, 1, dispersion);
    s->year = step_between(m, g, place, now - 1, 4, dispersion);
}

// ---- tests ----

ChangeSeries series_cells(const Series *s, ChangeCell **cells) {
    *cells = g_new(ChangeCell, s->points->len + 1);
    for (guint i = 0; i < s->points->len; i++)
        (*cells)[i] = g_array_index(s->points, SeriesPoint, i).cell;
    return (ChangeSeries){s->measure, *cells, s->points->len, s->per_year};
}

double series_pooled(const ChangeSeries *c, size_t from, size_t to) {
    ChangeCell sum = {0};
    double *values = g_new(double, c->k + 1);
    size_t n = 0;
    for (size_t i = from; i < to; i++)
        if (c->cell[i].whole) {
            sum.events += c->cell[i].events;
            sum.total += c->cell[i].total;
            if (c->measure == CHANGE_MEDIAN && c->cell[i].minutes.k > 0)
                values[n++] = change_value(c->measure, &c->cell[i]);
        }
    quantile_sort(values, n);
    const double value = c->measure == CHANGE_MEDIAN ? quantile_hf2(values, n, 0.5)
                         : sum.total > 0             ? sum.events / sum.total
                                                     : NAN;
    g_free(values);
    return value;
}

static void test(Series *s, double confidence) {
    ChangeCell *cells;
    size_t at = 0;
    const ChangeSeries c = series_cells(s, &cells);
    s->model = change_model(&c);
    s->p_point = change_point(&c, &at);
    s->at = (guint)at;
    s->p_shift = change_shift(&c, &s->run, &s->side);
    s->longest_limit = run_chart_longest_limit(s->run.useful);
    s->crossings_limit = run_chart_crossings_limit(s->run.useful);
    s->run_signal = run_chart_signal(&s->run);
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
    g_free(cells);
}

// The volume of the units whose logs have records in every month that all logs together cover.
static void find_steady(const Maker *m, const Gathered *g, Series *s) {
    GArray *months = g_array_new(FALSE, FALSE, sizeof(guint));
    ChangeCell *cells;
    const ChangeSeries c = series_cells(s, &cells);
    const guint skipped = s->points->len > 0 ? g_array_index(s->points, SeriesPoint, 0).period -
                                                   g_array_index(m->months, guint, 0)
                                             : 0;
    for (size_t i = 0; i < c.k; i++) {
        const guint period = g_array_index(s->points, SeriesPoint, i).period;
        cells[i].whole = coverage_together(m->coverage, period_at(m, period));
        if (cells[i].whole)
            g_array_append_val(months, period);
        cells[i].events = 0;
    }
    for (guint u = 1; u < m->data->units->len && months->len > 0; u++) {
        if (!coverage_every_month(m->coverage, u, months))
            continue;
        s->steady_units++;
        for (size_t i = 0; i < c.k; i++)
            cells[i].events += g->monthly[u][i + skipped].events;
    }
    if (s->steady_units > 0)
        s->steady_trend = change_trend(&c, m->confidence);
    g_array_unref(months);
    g_free(cells);
}

void series_forget(Series *s) {
    for (guint i = 0; i < s->points->len; i++)
        g_array_index(s->points, SeriesPoint, i).cell.minutes.k = 0;
    SeriesStep *const steps[] = {&s->quarter, &s->year};
    for (int i = 0; i < 2; i++)
        steps[i]->now_cell.minutes.k = steps[i]->then_cell.minutes.k = 0;
    g_ptr_array_set_size(s->kept, 0);
}

// ---- the series ----

static void free_series(gpointer data) {
    Series *s = data;
    g_array_unref(s->points);
    if (s->gaps)
        g_array_unref(s->gaps);
    g_ptr_array_unref(s->kept);
    g_free(s);
}

static Series *series_new(const Gathered *g, guint index, uint16_t unit) {
    Series *s = g_new0(Series, 1);
    *s = (Series){.indicator = (uint16_t)index,
                  .unit = unit,
                  .chart = g->measure == CHANGE_SHARE    ? SERIES_P
                           : g->measure == CHANGE_MEDIAN ? SERIES_XMR
                                                         : SERIES_U,
                  .measure = g->measure,
                  .per_year = unit == 0 ? 12 : 4,
                  .points = g_array_new(FALSE, FALSE, sizeof(SeriesPoint)),
                  .steady_trend = {{NAN, NAN, NAN}, NAN, 0},
                  .kept = g_ptr_array_ref(g->kept)};
    return s;
}

static void add_series(const Maker *m, Gathered *g, guint index, unsigned place) {
    const GArray *list = place == 0 ? m->months : m->quarters;
    Series *s = series_new(g, index, g_array_index(m->data->units, uint16_t, place));
    finish(m, g, place);
    for (guint i = 0; i < list->len; i++) {
        const guint period = g_array_index(list, guint, i);
        if (!in_span(m, period_at(m, period)))
            continue;
        const ChangeCell *cell = &g->cell[place][i];
        const SeriesPoint point = {.period = period,
                                   .value = change_value(g->measure, cell),
                                   .whole = cell->whole,
                                   .cell = *cell};
        g_array_append_val(s->points, point);
    }
    test(s, m->confidence);
    find_steps(m, g, place, s);
    if (place == 0 && g->monthly)
        find_steady(m, g, s);
    if (place == 0 && (g->measure == CHANGE_SHARE || g->measure == CHANGE_RATE) && rare_is(s))
        rare_chart(m->data, g->in, s);
    g_ptr_array_add(m->result, s);
}

// Everything of one indicator; m is this job's own copy but for what is only read.
static void make(Maker m, guint index) {
    const Indicator *in = m.catalogue->pdata[index];
    Gathered g = gathered_new(&m, in);
    gather(&m, &g);
    if (g.measure == CHANGE_MEDIAN)
        gather_minutes(&m, &g);
    for (unsigned u = 0; u < m.data->units->len; u++)
        if (u == 0 || judged_is(in) || in->measure == MEASURE_COUNT)
            add_series(&m, &g, index, u);
    gathered_clear(&m, &g);
}

typedef struct {
    const Maker *maker;
    GPtrArray **result; // by indicator
} Jobs;

static void job(unsigned i, void *user) {
    const Jobs *jobs = user;
    Maker m = *jobs->maker;
    m.result = jobs->result[i] = g_ptr_array_new();
    if (m.months->len > 0 && has_series(m.catalogue->pdata[i]))
        make(m, i);
}

GPtrArray *series_all(const CountData *data, const GPtrArray *catalogue, double confidence,
                      int threads) {
    const Maker m = {.data = data,
                     .catalogue = catalogue,
                     .coverage = coverage_new(data),
                     .months = periods_of(data, PERIOD_MONTH),
                     .quarters = periods_of(data, PERIOD_QUARTER),
                     .confidence = confidence};
    Jobs jobs = {&m, g_new0(GPtrArray *, catalogue->len + 1)};
    parallel_each(catalogue->len, threads, job, &jobs);
    GPtrArray *all = g_ptr_array_new_with_free_func(free_series);
    for (guint k = 0; k < catalogue->len; k++)
        g_ptr_array_extend_and_steal(all, jobs.result[k]);
    g_free(jobs.result);
    coverage_free(m.coverage);
    g_array_unref(m.months);
    g_array_unref(m.quarters);
    return all;
}
