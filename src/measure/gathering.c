// SPDX-License-Identifier: GPL-3.0-or-later
// Records -> cells of months, quarters and years.
#include "measure/gathering.h"

#include "measure/durations.h"
#include "measure/judged.h"

#include <string.h>

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

// ---- counting ----

static void add(const Gathering *g, guint line, int slot, const CountRecord *r) {
    ChangeCell *cell = &g->cell[line][slot];
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

static void add_record(const Gathering *g, size_t row, const CountRecord *r, uint8_t judged) {
    const GatheringFrame *f = g->frame;
    const CountData *d = f->data;
    const uint16_t month = d->month[row];
    const unsigned place = d->place[transfers_units(d->t, FIELD_sending_unit)[row]];
    const int slot = d->slot[PERIOD_MONTH][month] - (int)g_array_index(f->months, guint, 0);
    const int quarter = d->slot[PERIOD_QUARTER][month] - (int)g_array_index(f->quarters, guint, 0);
    if (r->state == COUNT_OUT)
        return;
    add(g, 0, slot, r);
    for (guint line = d->units->len; line < g->lines; line++)
        if (count_value(d->t, FIELD_urgency, row) == gathering_urgency(f, line))
            add(g, line, slot, r);
    if (g->monthly && r->state == COUNT_IN)
        g->monthly[place][slot]++;
    CountRecord own = *r;
    own.state = MIN(own.state, judged); // a condition's value is a state (judged.c)
    if (own.state != COUNT_OUT)
        add(g, place, quarter, &own);
}

static void gather(const Gathering *g) {
    const Transfers *t = g->frame->data->t;
    const bool narrow = judged_is(g->in);
    Condition *judged = narrow ? condition_parse(g->in->compare, NULL) : NULL;
    CountRecord record[COUNT_BLOCK];
    uint8_t condition[COUNT_BLOCK];
    memset(condition, CONDITION_TRUE, sizeof condition);
    for (size_t first = 0; first < t->n; first += COUNT_BLOCK) {
        const size_t n = MIN((size_t)COUNT_BLOCK, t->n - first);
        count_records(g->frame->data, g->in, first, n, record);
        if (judged)
            condition_fill(judged, t, first, n, condition);
        for (size_t i = 0; i < n; i++)
            add_record(g, first + i, &record[i], condition[i]);
    }
    if (judged)
        condition_free(judged);
}

static void take_minutes(void *user, const DurationsCell *c) {
    const Gathering *g = user;
    const guint line = c->by < 0 ? c->place : g->frame->data->units->len + c->group;
    if (line >= g->lines) // patients of unknown urgency
        return;
    double *room;
    g->minutes[line][c->period] = durations_keep(c->minutes, &room);
    g_ptr_array_add(g->kept, room);
}

static void gather_minutes(Gathering *g) {
    static const PeriodKind kinds[] = {PERIOD_MONTH, PERIOD_QUARTER, PERIOD_YEAR};
    DurationsFace faces[3 * G_N_ELEMENTS(kinds)];
    size_t n = 0;
    for (size_t k = 0; k < G_N_ELEMENTS(kinds); k++) {
        faces[n++] = (DurationsFace){false, -1, kinds[k], false};
        if (judged_is(g->in) && kinds[k] != PERIOD_MONTH)
            faces[n++] = (DurationsFace){true, -1, kinds[k], true};
        if (g->by >= 0)
            faces[n++] = (DurationsFace){false, g->by, kinds[k], false};
    }
    durations_deal(g->frame->data, g->in, faces, n, take_minutes, g);
}

// Weeks that a volume is counted over: of a whole period all, even where its last months have no
// record.
static double weeks_of(const CountData *data, const Period *p, bool whole) {
    return whole ? (period_first_day(p->end) - period_first_day(p->first)) / 7.0
                 : count_weeks(data, p);
}

// Fills in what does not come record by record.
static void finish(const Gathering *g, guint line, guint period, ChangeCell *cell) {
    const GatheringFrame *f = g->frame;
    const Period *p = period_at(f, period);
    cell->whole = coverage_whole(f->coverage, gathering_place(f, line), p);
    if (g->measure == CHANGE_VOLUME)
        cell->total = weeks_of(f->data, p, cell->whole);
    if (g->minutes)
        cell->minutes = g->minutes[line][period];
}

ChangeCell gathering_cell(const Gathering *g, guint line, guint period) {
    const GArray *list = gathering_periods(g->frame, line);
    const Period *whole = period_at(g->frame, period);
    ChangeCell sum = {0};
    for (guint i = 0; i < list->len; i++) {
        const Period *p = period_at(g->frame, g_array_index(list, guint, i));
        const ChangeCell *cell = &g->cell[line][i];
        if (p->first < whole->first || p->first >= whole->end)
            continue;
        sum.events += cell->events;
        sum.total += cell->total;
        sum.squares += cell->squares;
        sum.unknown += cell->unknown;
        sum.records += cell->records;
    }
    finish(g, line, period, &sum);
    return sum;
}

double gathering_in_month(const Gathering *g, unsigned place, guint month) {
    return g->monthly[place][month - g_array_index(g->frame->months, guint, 0)];
}

// ---- life ----

static ChangeMeasure measure_of(const Indicator *in) {
    return in->measure == MEASURE_SHARE   ? CHANGE_SHARE
           : in->measure == MEASURE_RATE  ? CHANGE_RATE
           : in->measure == MEASURE_COUNT ? CHANGE_VOLUME
                                          : CHANGE_MEDIAN;
}

// Where urgency stands among what a measure of waiting is broken down by, else -1.
static int by_urgency(const Indicator *in) {
    bool waits = in->measure == MEASURE_QUANTILE;
    for (unsigned i = 0; in->measure == MEASURE_SHARE && i < condition_terms(in->events); i++)
        waits = waits || condition_term(in->events, i).field == FIELD_departed_in_time;
    for (unsigned b = 0; b < in->n_by && waits; b++)
        if (in->by[b] == FIELD_urgency)
            return (int)b;
    return -1;
}

Gathering *gathering_new(const GatheringFrame *f, const Indicator *in) {
    Gathering *g = g_new(Gathering, 1);
    *g = (Gathering){.frame = f,
                     .in = in,
                     .measure = measure_of(in),
                     .by = by_urgency(in),
                     .lines = f->data->units->len,
                     .kept = g_ptr_array_new_with_free_func(g_free)};
    g->lines += g->by < 0 ? 0 : f->urgencies->len;
    g->cell = g_new0(ChangeCell *, g->lines);
    g->monthly = g->measure == CHANGE_VOLUME ? g_new0(double *, g->lines) : NULL;
    g->minutes = g->measure == CHANGE_MEDIAN ? g_new0(Runs *, g->lines) : NULL;
    for (guint line = 0; line < g->lines; line++) {
        g->cell[line] = g_new0(ChangeCell, gathering_periods(f, line)->len + 1);
        if (g->monthly)
            g->monthly[line] = g_new0(double, f->months->len + 1);
        if (g->minutes)
            g->minutes[line] = g_new0(Runs, f->data->periods->len + 1);
    }
    gather(g);
    if (g->minutes)
        gather_minutes(g);
    return g;
}

void gathering_free(Gathering *g) {
    for (guint line = 0; line < g->lines; line++) {
        g_free(g->cell[line]);
        if (g->monthly)
            g_free(g->monthly[line]);
        if (g->minutes)
            g_free(g->minutes[line]);
    }
    g_free(g->cell);
    g_free(g->monthly);
    g_free(g->minutes);
    g_ptr_array_unref(g->kept);
    g_free(g);
}
