// SPDX-License-Identifier: GPL-3.0-or-later
// Records -> cells of months, quarters and years.
#include "measure/gathering.h"

#include "measure/durations.h"
#include "stats/quantile.h"

static const Period *period_at(const GatheringFrame *f, guint index) {
    return &g_array_index(f->data->periods, Period, index);
}

// ---- what is alike ----

static GArray *known_urgencies(const CountData *data) {
    GArray *list = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    const GArray *all = data->codes[FIELD_urgency]; // unknown comes last
    for (guint i = 0; all && i < all->len; i++)
        if (g_array_index(all, uint16_t, i) != 0)
            g_array_append_val(list, g_array_index(all, uint16_t, i));
    return list;
}

static GArray *periods_of(const CountData *data, PeriodKind kind) {
    GArray *list = g_array_new(FALSE, FALSE, sizeof(guint));
    for (guint p = 0; p < data->periods->len; p++)
        if (g_array_index(data->periods, Period, p).kind == kind)
            g_array_append_val(list, p);
    return list;
}

GatheringFrame *gathering_frame_new(const CountData *data, const Coverage *coverage) {
    GatheringFrame *f = g_new(GatheringFrame, 1);
    *f = (GatheringFrame){.data = data,
                          .coverage = coverage,
                          .months = periods_of(data, PERIOD_MONTH),
                          .quarters = periods_of(data, PERIOD_QUARTER),
                          .years = periods_of(data, PERIOD_YEAR),
                          .urgencies = known_urgencies(data)};
    return f;
}

void gathering_frame_free(GatheringFrame *f) {
    g_array_unref(f->months);
    g_array_unref(f->quarters);
    g_array_unref(f->years);
    g_array_unref(f->urgencies);
    g_free(f);
}

unsigned gathering_place(const GatheringFrame *f, guint line) {
    return line < f->data->units->len ? line : 0;
}

uint16_t gathering_urgency(const GatheringFrame *f, guint line) {
    const guint units = f->data->units->len;
    return line < units ? 0 : g_array_index(f->urgencies, uint16_t, line - units);
}

const GArray *gathering_periods(const GatheringFrame *f, guint line) {
    return gathering_place(f, line) == 0 ? f->months : f->quarters;
}

// ---- durations ----

static void take_minutes(void *user, const DurationsCell *c) {
    const Gathering *g = user;
    if (c->by < 0) {
        g->median[c->place][c->period] = quantile_of_runs(c->minutes, 0.5);
        return;
    }
    double *room;
    g->within[c->place][c->period * g->strata + c->group] = durations_keep(c->minutes, &room);
    g->open[c->place][c->period * g->strata + c->group] = (double)c->unknown;
    g_ptr_array_add(g->kept, room);
}

static void gather_minutes(Gathering *g) {
    static const PeriodKind kinds[] = {PERIOD_MONTH, PERIOD_QUARTER, PERIOD_YEAR};
    // Those that take most room while they are dealt come first, when little is kept.
    static const struct {
        bool units;
        int by;
    } order[] = {
        {true, DURATIONS_BY_URGENCY}, {false, DURATIONS_BY_URGENCY}, {true, -1}, {false, -1}};
    DurationsFace faces[G_N_ELEMENTS(order) * G_N_ELEMENTS(kinds)];
    size_t n = 0;
    for (size_t i = 0; i < G_N_ELEMENTS(order); i++)
        for (size_t k = order[i].units ? 1 : 0; k < G_N_ELEMENTS(kinds); k++) // units: no months
            if (!order[i].units || catalogue_judges(g->in))
                faces[n++] = (DurationsFace){order[i].units, order[i].by, kinds[k], order[i].units};
    durations_deal(g->frame->data, g->in, faces, n, take_minutes, g);
    durations_give_back(g->frame->data); // the tests of the series need room themselves
}

// ---- cells ----

// Weeks that a volume is counted over: of a whole period all, even where its last months have no
// record.
static double weeks_of(const CountData *data, const Period *p, bool whole) {
    return whole ? (period_first_day(p->end) - period_first_day(p->first)) / 7.0
                 : count_weeks(data, p);
}

static TallyCell cell_of(const Gathering *g, guint line, const Period *p) {
    const CountData *d = g->frame->data;
    const unsigned place = gathering_place(g->frame, line);
    const uint16_t urgency = gathering_urgency(g->frame, line);
    return (TallyCell){.place = place,
                       .from = p->first - d->first,
                       .to = p->end - d->first,
                       .by = urgency ? g->by : -1,
                       .group = urgency ? tally_group(g->tally, (unsigned)g->by, urgency) : 0,
                       .judged = place > 0 && catalogue_judges(g->in)};
}

static void add_minutes(const Gathering *g, guint line, guint period, ChangeCell *cell) {
    const guint units = g->frame->data->units->len;
    const size_t first = period * g->strata;
    if (line >= units) { // known urgencies come first
        cell->minutes = g->within[0][first + line - units];
        cell->total = runs_size(cell->minutes);
        return;
    }
    cell->median = g->median[line][period];
    cell->strata = g->strata;
    cell->within = g->within[line] + first;
    cell->unknown_within = g->open[line] + first;
    for (size_t k = 0; k < g->strata; k++)
        cell->total += runs_size(cell->within[k]);
}

ChangeCell gathering_cell(const Gathering *g, guint line, guint period) {
    const Period *p = period_at(g->frame, period);
    const TallySums sums = tally_cell(g->tally, cell_of(g, line, p), NULL);
    ChangeCell cell = {.unknown = (double)sums.unknown};
    cell.whole = coverage_whole(g->frame->coverage, gathering_place(g->frame, line), p);
    switch (g->measure) {
    case CHANGE_SHARE:
        cell.events = cell.squares = sums.sum;
        cell.total = (double)sums.total;
        break;
    case CHANGE_RATE:
        cell.events = sums.sum;
        cell.squares = sums.squares;
        cell.records = (double)sums.total;
        cell.total = sums.exposure / (g->in->exposure == EXPOSURE_HOURS ? 60 : 1) / g->in->per;
        break;
    case CHANGE_VOLUME:
        cell.events = cell.squares = (double)sums.total;
        cell.total = weeks_of(g->frame->data, p, cell.whole);
        break;
    case CHANGE_MEDIAN:
        add_minutes(g, line, period, &cell);
        break;
    }
    return cell;
}

double gathering_in_month(const Gathering *g, unsigned place, guint month) {
    const CountData *d = g->frame->data;
    const Period *p = period_at(g->frame, month);
    const TallyCell cell = {place, p->first - d->first, p->end - d->first, -1, 0, false};
    return (double)tally_cell(g->tally, cell, NULL).total;
}

// ---- life ----

static ChangeMeasure measure_of(const Indicator *in) {
    return in->measure == MEASURE_SHARE   ? CHANGE_SHARE
           : in->measure == MEASURE_RATE  ? CHANGE_RATE
           : in->measure == MEASURE_COUNT ? CHANGE_VOLUME
                                          : CHANGE_MEDIAN;
}

// Where urgency stands among what a measure of waiting is broken down by, else -1.
static int urgency_of(const Indicator *in) {
    bool waits = in->measure == MEASURE_QUANTILE;
    for (unsigned i = 0; in->measure == MEASURE_SHARE && i < condition_terms(in->events); i++)
        waits = waits || condition_term(in->events, i).field == FIELD_departed_in_time;
    for (unsigned b = 0; b < in->n_by && waits; b++)
        if (in->by[b] == FIELD_urgency)
            return (int)b;
    return -1;
}

Gathering *gathering_new(const GatheringFrame *f, const Indicator *in, const Tally *tally) {
    Gathering *g = g_new(Gathering, 1);
    *g = (Gathering){.frame = f,
                     .in = in,
                     .tally = tally,
                     .measure = measure_of(in),
                     .by = urgency_of(in),
                     .lines = f->data->units->len,
                     .kept = g_ptr_array_new_with_free_func(g_free)};
    g->lines += g->by < 0 ? 0 : f->urgencies->len;
    if (g->measure != CHANGE_MEDIAN)
        return g;
    const guint periods = f->data->periods->len + 1, units = f->data->units->len;
    g->strata = f->data->codes[FIELD_urgency]->len;
    g->within = g_new(Runs *, units);
    g->open = g_new(double *, units);
    g->median = g_new(double *, units);
    for (guint line = 0; line < units; line++) {
        g->median[line] = g_new0(double, periods);
        g->within[line] = g_new0(Runs, periods * g->strata);
        g->open[line] = g_new0(double, periods * g->strata);
    }
    gather_minutes(g);
    return g;
}

void gathering_free(Gathering *g) {
    for (guint line = 0; g->within && line < g->frame->data->units->len; line++) {
        g_free(g->within[line]);
        g_free(g->open[line]);
        g_free(g->median[line]);
    }
    g_free(g->median);
    g_free(g->within);
    g_free(g->open);
    g_ptr_array_unref(g->kept);
    g_free(g);
}
