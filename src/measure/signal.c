// SPDX-License-Identifier: GPL-3.0-or-later
// Comparisons and series -> signals.
#include "measure/signal.h"

#include "base/visible.h"
#include "measure/sentence.h"
#include "measure/worstchange.h"
#include "stats/multiple.h"

#include <math.h>
#include <string.h>

const char *signal_kind(SignalKind kind) {
    static const char *const names[] = {"level", "trend", "shift", "point", "change"};
    return names[kind];
}

const char *signal_direction(SignalDirection direction) {
    static const char *const names[] = {"worse", "higher", "lower", "better"};
    return names[direction];
}

char *signal_group(uint16_t urgency) {
    if (urgency == 0)
        return g_strdup("all");
    return g_strdup_printf("urgency=%s",
                           field_code_text(field_table[FIELD_urgency].codes, urgency));
}

static SignalDirection direction_of(const Indicator *in, bool up) {
    if (!*in->better)
        return up ? SIGNAL_HIGHER : SIGNAL_LOWER;
    return up == !strcmp(in->better, "higher") ? SIGNAL_BETTER : SIGNAL_WORSE;
}

// ---- levels ----

// The row of the same unit and indicator of the other kind, or NULL.
static const Comparison *counterpart(const Comparisons *c, const Comparison *row) {
    for (guint i = 0; i < c->rows->len; i++) {
        const Comparison *other = &g_array_index(c->rows, Comparison, i);
        if (other->indicator == row->indicator && other->unit == row->unit &&
            other->kind != row->kind)
            return other;
    }
    return NULL;
}

// How many urgencies there are among which durations are told apart.
static guint urgencies_of(const CountData *data) {
    const GArray *codes = data->codes[FIELD_urgency];
    return codes ? codes->len : 0;
}

static void add_level(Signals *s, const CountData *data, const Comparisons *c,
                      const Comparison *row) {
    const Indicator *in = c->catalogue->pdata[row->indicator];
    Signal *signal = g_new0(Signal, 1);
    *signal = (Signal){.unit = row->unit,
                       .indicator = row->indicator,
                       .kind = SIGNAL_LEVEL,
                       .adjusted = row->kind == COMPARE_ADJUSTED,
                       .direction = direction_of(in, row->side > 0),
                       .period = g_strdup(c->period),
                       .against = g_strdup(""),
                       .estimate = row->value.estimate,
                       .reference = row->centre,
                       .effect = NAN,
                       .lower = row->value.lower,
                       .upper = row->value.upper,
                       .p = row->p,
                       .q = row->q,
                       .robust = row->robust,
                       .rests_on = row->rests_on};
    const SentenceFacts facts = {
        .indicator = in,
        .measure = in->measure == MEASURE_SHARE  ? CHANGE_SHARE
                   : in->measure == MEASURE_RATE ? CHANGE_RATE
                                                 : CHANGE_MEDIAN,
        .unit = visible_isolated(network_unit_name(data->network, c->t->units->pdata[row->unit])),
        .events = row->events,
        .total = row->total,
        .unknown = (double)row->unknown,
        .expected = row->expected,
        .side = row->side,
        .urgencies = urgencies_of(data),
        .confidence = c->confidence,
        .other = counterpart(c, row)};
    signal->sentence = sentence_of(signal, &facts);
    g_ptr_array_add(s->levels, signal);
    g_ptr_array_add(s->list, signal);
}

// ---- changes ----

static const SeriesStep *step_of(const Series *s, int test) {
    return test == 3 ? &s->quarter : test == 4 ? &s->year_ago : &s->year;
}

static void p_values(const Series *s, double *p) {
    p[0] = s->p_point;
    p[1] = s->p_shift;
    p[2] = s->trend.p;
    p[3] = s->quarter.step.p;
    p[4] = s->year_ago.step.p;
    p[5] = s->year.step.p;
}

static SignalKind kind_of(int test) {
    static const SignalKind kinds[SERIES_TESTS] = {SIGNAL_POINT,  SIGNAL_SHIFT,  SIGNAL_TREND,
                                                   SIGNAL_CHANGE, SIGNAL_CHANGE, SIGNAL_CHANGE};
    return kinds[test];
}

// Whether what a test found is that the value went up.
static bool is_up(const Series *s, int test) {
    if (test == 0 && s->gaps)
        return !s->longer; // a long gap: fewer events
    if (test == 0)
        return g_array_index(s->points, SeriesPoint, s->at).value > s->model.centre;
    if (test == 1)
        return s->side > 0;
    if (test == 2)
        return s->trend.ratio.estimate > (s->measure == CHANGE_MEDIAN ? 0 : 1);
    return step_of(s, test)->step.side > 0;
}

static void weigh(Series *s, void *unused) {
    (void)unused;
    double p[SERIES_TESTS];
    p_values(s, p);
    for (int test = 0; test < SERIES_TESTS; test++) {
        s->worst[test] = NAN;
        if (!(p[test] <= COMPARE_LEVEL)) // there may not even be a point
            continue;
        const WorstchangeTest worst = {kind_of(test), step_of(s, test), is_up(s, test), p[test]};
        s->worst[test] = worstchange_p(s, &worst);
    }
}

static const char *name_of(const CountData *data, guint period) {
    return g_array_index(data->periods, Period, period).name;
}

static void fill_point(const CountData *data, const Series *s, Signal *signal) {
    const GArray *points = s->gaps ? s->gaps : s->points;
    const SeriesPoint *p = &g_array_index(points, SeriesPoint, s->at);
    signal->estimate = p->value;
    signal->reference = s->model.centre;
    signal->lower = p->lower;
    signal->upper = p->upper;
    if (s->gaps) {
        int year, month, day;
        when_civil(p->day, &year, &month, &day);
        signal->period = g_strdup_printf("%04d-%02d", year, month);
    } else {
        signal->period = g_strdup(name_of(data, p->period));
    }
}

static void fill_trend(const Series *s, Signal *signal) {
    signal->estimate = s->trend.ratio.estimate;
    signal->reference = s->measure == CHANGE_MEDIAN ? 0 : 1;
    signal->effect = s->trend.ratio.estimate;
    signal->lower = s->trend.ratio.lower;
    signal->upper = s->trend.ratio.upper;
}

static void fill_step(const CountData *data, const SeriesStep *step, Signal *signal) {
    signal->estimate = step->step.now;
    signal->reference = step->step.then;
    signal->effect = step->step.effect.estimate;
    signal->lower = step->step.effect.lower;
    signal->upper = step->step.effect.upper;
    signal->period = g_strdup(name_of(data, step->now));
    signal->against = g_strdup(name_of(data, step->then));
}

static void fill(const CountData *data, const Series *s, int test, Signal *signal) {
    signal->kind = kind_of(test);
    signal->effect = signal->lower = signal->upper = NAN;
    if (test == 0) {
        fill_point(data, s, signal);
    } else if (test == 1) {
        signal->estimate = s->later;
        signal->reference = s->earlier;
    } else if (test == 2) {
        fill_trend(s, signal);
    } else {
        fill_step(data, step_of(s, test), signal);
    }
    if (!signal->period)
        signal->period = g_strdup("all");
    if (!signal->against)
        signal->against = g_strdup("");
}

// The unit that a series tells of: where one sends all, what is said of the network is said of it.
// NULL: more than one.
static const char *unit_of(const CountData *data, const Series *s) {
    const uint16_t one = data->units->len == 2 ? g_array_index(data->units, uint16_t, 1) : 0,
                   unit = s->unit ? s->unit : one;
    return unit ? visible_isolated(network_unit_name(data->network, data->t->units->pdata[unit]))
                : NULL;
}

static void say_change(Signals *all, const CountData *data, const Comparisons *c, const Series *s,
                       Signal *signal) {
    const bool point = signal->kind == SIGNAL_POINT && !s->gaps;
    const ChangeCell *of = point ? &g_array_index(s->points, SeriesPoint, s->at).cell : NULL;
    const SentenceFacts facts = {.indicator = c->catalogue->pdata[s->indicator],
                                 .measure = s->measure,
                                 .events = of ? of->events : NAN,
                                 .total = of ? of->total : NAN,
                                 .unit = unit_of(data, s),
                                 .urgencies = urgencies_of(data),
                                 .confidence = c->confidence,
                                 .series = s};
    signal->sentence = sentence_of(signal, &facts);
    g_ptr_array_add(all->list, signal);
}

// Where one unit sent all, what is found of it is found of the network, too, and said once.
static bool says_again(const CountData *data, const Series *s) {
    return s->unit && data->units->len == 2;
}

static void add_change(Signals *all, const CountData *data, const Comparisons *c, const Series *s,
                       int test, double p, double q) {
    Signal *signal = g_new0(Signal, 1);
    signal->unit = s->unit;
    signal->indicator = s->indicator;
    signal->urgency = s->urgency;
    signal->series = s;
    signal->p = p;
    signal->q = q;
    const bool up = is_up(s, test);
    fill(data, s, test, signal);
    signal->direction = direction_of(c->catalogue->pdata[s->indicator], up);
    const WorstchangeTest worst = {signal->kind, step_of(s, test), up, p};
    signal->worst = s->worst[test];
    if (q <= COMPARE_LEVEL) {
        const bool stays = signal->worst <= all->cut;
        signal->robust = stays ? COMPARE_ROBUST : COMPARE_RESTS;
        signal->rests_on = stays ? 0 : worstchange_unknown(s, &worst);
        if (!says_again(data, s))
            say_change(all, data, c, s, signal);
    }
    g_ptr_array_add(all->changes, signal);
}

static void add_changes(Signals *all, const CountData *data, const Comparisons *c) {
    const guint n = all->series->len * SERIES_TESTS;
    double *p = g_new(double, n + 1), *q = g_new(double, n + 1);
    for (guint i = 0; i < all->series->len; i++)
        p_values(all->series->pdata[i], p + (size_t)i * SERIES_TESTS);
    if (!multiple_benjamini_hochberg(p, n, q))
        g_error("out of memory");
    for (guint i = 0; i < n; i++)
        all->change_tests += isnan(p[i]) ? 0 : 1;
    all->cut = multiple_benjamini_hochberg_cut(q, n, COMPARE_LEVEL);
    for (guint i = 0; i < n; i++)
        if (!isnan(p[i]))
            add_change(all, data, c, all->series->pdata[i / SERIES_TESTS], (int)(i % SERIES_TESTS),
                       p[i], q[i]);
    g_free(p);
    g_free(q);
}

// ---- the whole ----

static int weight(SignalDirection direction) {
    return direction == SIGNAL_WORSE ? 0 : direction == SIGNAL_BETTER ? 2 : 1;
}

static gint by_importance(gconstpointer a, gconstpointer b) {
    const Signal *x = *(Signal *const *)a, *y = *(Signal *const *)b;
    if (weight(x->direction) != weight(y->direction))
        return weight(x->direction) - weight(y->direction);
    if (x->q != y->q)
        return x->q < y->q ? -1 : 1;
    if (x->p != y->p)
        return x->p < y->p ? -1 : 1;
    if (x->indicator != y->indicator)
        return x->indicator - y->indicator;
    if (x->urgency != y->urgency)
        return x->urgency - y->urgency;
    return x->unit != y->unit ? x->unit - y->unit : (int)x->kind - (int)y->kind;
}

static void free_signal(gpointer data) {
    Signal *s = data;
    g_free(s->period);
    g_free(s->against);
    g_free(s->sentence);
    g_free(s);
}

static uint8_t *whole_periods(const CountData *data, const Coverage *coverage) {
    uint8_t *whole = g_new(uint8_t, (size_t)data->units->len * data->periods->len + 1);
    for (guint u = 0; u < data->units->len; u++)
        for (guint p = 0; p < data->periods->len; p++)
            whole[(size_t)u * data->periods->len + p] =
                coverage_whole(coverage, u, &g_array_index(data->periods, Period, p));
    return whole;
}

bool signal_whole(const Signals *s, guint place, guint period) {
    return s->whole[(size_t)place * s->periods + period];
}

Signals *signal_series(const Counted *counted, double confidence, int threads) {
    const CountData *data = counted->data;
    Signals *s = g_new0(Signals, 1);
    s->list = g_ptr_array_new();
    s->levels = g_ptr_array_new_with_free_func(free_signal);
    s->changes = g_ptr_array_new_with_free_func(free_signal);
    Coverage *coverage = coverage_new(data);
    s->whole = whole_periods(data, coverage);
    s->periods = data->periods->len;
    const SeriesSource source = {counted, coverage, confidence, threads};
    s->series = series_all(&source, weigh, NULL);
    coverage_free(coverage);
    return s;
}

void signal_judge(Signals *s, const Counted *counted, const Comparisons *c) {
    const CountData *data = counted->data;
    for (guint i = 0; i < c->rows->len; i++) {
        const Comparison *row = &g_array_index(c->rows, Comparison, i);
        s->unit_tests += isnan(row->p) ? 0 : 1;
        if (row->flagged)
            add_level(s, data, c, row);
    }
    add_changes(s, data, c);
    g_ptr_array_sort(s->list, by_importance);
}

void signal_free(Signals *s) {
    if (!s)
        return;
    g_ptr_array_unref(s->list);
    g_ptr_array_unref(s->levels);
    g_ptr_array_unref(s->changes);
    g_ptr_array_unref(s->series);
    g_free(s->whole);
    g_free(s);
}
