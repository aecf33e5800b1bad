// SPDX-License-Identifier: GPL-3.0-or-later
// Worst cases of changes.
#include "measure/worstchange.h"

#include "stats/strata.h"

#include <math.h>

// Durations with the unknown ones long, or short.
static Runs settled_runs(Runs runs, bool as_long, double unknown, GPtrArray *kept) {
    double *room = g_new(double, 2 * (runs.k + 1));
    g_ptr_array_add(kept, room);
    return runs_with(runs, as_long ? 1e9 : -1, unknown, room);
}

static const Runs *settled_strata(const ChangeCell *cell, bool as_long, GPtrArray *kept) {
    if (!cell->within)
        return NULL;
    Runs *within = g_new(Runs, cell->strata);
    g_ptr_array_add(kept, within);
    for (size_t s = 0; s < cell->strata; s++)
        within[s] = settled_runs(cell->within[s], as_long, cell->unknown_within[s], kept);
    return within;
}

// The cell with its unknown records as events (or long durations), or not; what it needs is added
// to `kept`.
static ChangeCell settled(ChangeMeasure measure, const ChangeCell *cell, bool as_events,
                          double exposure_each, GPtrArray *kept) {
    ChangeCell c = *cell;
    if (measure == CHANGE_MEDIAN) {
        c.minutes = settled_runs(cell->minutes, as_events, cell->within ? 0 : cell->unknown, kept);
        c.within = settled_strata(cell, as_events, kept);
        c.total += cell->unknown;
        c.median = c.within ? strata_middle(c.within, c.strata) : NAN;
        return c;
    }
    c.events += as_events ? cell->unknown : 0;
    c.squares += as_events ? cell->unknown : 0;
    c.total += measure == CHANGE_SHARE  ? cell->unknown
               : measure == CHANGE_RATE ? cell->unknown * exposure_each
                                        : 0;
    return c;
}

// Mean exposure of a known record (rates).
static double exposure_each(const Series *s) {
    double total = 0, records = 0;
    for (guint i = 0; i < s->points->len; i++) {
        total += g_array_index(s->points, SeriesPoint, i).cell.total;
        records += g_array_index(s->points, SeriesPoint, i).cell.records;
    }
    return records > 0 ? total / records : 0;
}

static double step_p(const Series *s, const WorstchangeTest *t, GPtrArray *kept) {
    const double each = exposure_each(s);
    const ChangeCell now = settled(s->measure, &t->step->now_cell, !t->up, each, kept);
    const ChangeCell then = settled(s->measure, &t->step->then_cell, t->up, each, kept);
    const double dispersion = MAX(1, s->model.sigma * s->model.sigma);
    const double spread = t->step->spread;
    const double confidence = s->measure == CHANGE_MEDIAN ? NAN : 0.95; // p alone
    const ChangeStep step = spread > 0
                                ? change_between_spread(s->measure, &now, &then, spread, confidence)
                                : change_between(s->measure, &now, &then, dispersion, confidence);
    return step.side == (t->up ? 1 : -1) ? step.p : 1;
}

static double point_p(const Series *s, const ChangeSeries *c, bool up) {
    const ChangeModel m = change_model(c);
    const double value = change_value(s->measure, &c->cell[s->at]);
    const double tail = change_tail(c, &m, &c->cell[s->at]);
    return (value > m.centre) == up && value != m.centre ? fmin(1, (double)m.periods * tail) : 1;
}

static double trend_p(const ChangeSeries *c, bool up) {
    const ChangeTrend trend = change_trend(c, 0.95);
    const double level = c->measure == CHANGE_MEDIAN ? 0 : 1;
    return (trend.ratio.estimate > level) == up ? trend.p : 1;
}

static double shift_p(const ChangeSeries *c, bool up) {
    const double earlier = series_pooled(c, 0, c->k / 2), later = series_pooled(c, c->k / 2, c->k);
    int side;
    return (up ? later > earlier : later < earlier) ? change_shift(c, NULL, &side) : 1;
}

double worstchange_p(const Series *s, const WorstchangeTest *t) {
    if (worstchange_unknown(s, t) <= 0)
        return t->p;
    if (t->kind == SIGNAL_POINT && s->gaps)
        return NAN;
    GPtrArray *kept = g_ptr_array_new_with_free_func(g_free);
    double p = NAN;
    if (t->kind == SIGNAL_CHANGE) {
        p = step_p(s, t, kept);
    } else {
        ChangeCell *cells;
        ChangeSeries c = series_cells(s, &cells);
        const double each = exposure_each(s);
        for (size_t i = 0; i < c.k; i++) {
            const bool against = t->kind == SIGNAL_POINT ? i == s->at : i >= c.k / 2;
            cells[i] = settled(s->measure, &cells[i], against != t->up, each, kept);
        }
        double *level = t->kind == SIGNAL_POINT ? NULL : series_levels(&c);
        p = t->kind == SIGNAL_POINT   ? point_p(s, &c, t->up)
            : t->kind == SIGNAL_TREND ? trend_p(&c, t->up)
                                      : shift_p(&c, t->up);
        g_free(level);
        g_free(cells);
    }
    g_ptr_array_unref(kept);
    return p;
}

double worstchange_unknown(const Series *s, const WorstchangeTest *t) {
    double unknown = 0;
    if (t->kind == SIGNAL_CHANGE)
        return t->step->now_cell.unknown + t->step->then_cell.unknown;
    for (guint i = 0; i < s->points->len; i++) {
        const SeriesPoint *p = &g_array_index(s->points, SeriesPoint, i);
        unknown += p->whole ? p->cell.unknown : 0;
    }
    return unknown;
}
