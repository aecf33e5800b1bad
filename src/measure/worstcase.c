// SPDX-License-Identifier: GPL-3.0-or-later
// Worst cases for what is unknown.
#include "measure/worstcase.h"

#include "stats/control.h"
#include "stats/funnel.h"
#include "stats/shift.h"

#include <math.h>
#include <string.h>

// ---- durations ----

// Room for runs, one more and their sums.
static double *room_for(Runs runs) {
    return g_new(double, 2 * (runs.k + 1));
}

// The unit's durations in a stratum and those of the rest; room keeps what they stand in.
static void fill_stratum(const JudgedUnit *unit, const JudgedUnit *all, guint stratum, int side,
                         Runs *x, Runs *y, GPtrArray *room) {
    const Runs own = unit->within[stratum], whole = all->within[stratum];
    const double unknown = side == 0 ? 0 : (double)unit->unknown_within[stratum];
    const double others = side == 0 ? 0 : (double)all->unknown_within[stratum] - unknown;
    double *mine = room_for(own), *rest = room_for(whole), *more = room_for(whole);
    *x = runs_with(own, side > 0 ? -1 : INFINITY, unknown, mine);
    *y = runs_with(runs_without(whole, own, rest), side > 0 ? INFINITY : -1, others, more);
    g_ptr_array_add(room, mine);
    g_ptr_array_add(room, rest);
    g_ptr_array_add(room, more);
}

// A unit's durations and the rest's by stratum.
typedef struct {
    Runs *x, *y;
    GPtrArray *room;
} Strata;

static Strata strata_new(const Judged *judged, guint place, int side) {
    const Strata s = {g_new(Runs, judged->strata + 1), g_new(Runs, judged->strata + 1),
                      g_ptr_array_new_with_free_func(g_free)};
    for (guint k = 0; k < judged->strata; k++)
        fill_stratum(&judged->unit[place], &judged->unit[0], k, side, &s.x[k], &s.y[k], s.room);
    return s;
}

static void strata_free(Strata *s) {
    g_ptr_array_unref(s->room);
    g_free(s->x);
    g_free(s->y);
}

RankStrata worstcase_ranks(const Judged *judged, guint place, int side) {
    Strata s = strata_new(judged, place, side);
    const RankStrata r = rank_van_elteren_runs(s.x, s.y, judged->strata);
    strata_free(&s);
    return r;
}

StatsInterval worstcase_shift(const Judged *judged, guint place, double confidence) {
    Strata s = strata_new(judged, place, 0);
    const StatsInterval shift = shift_within_runs(s.x, s.y, judged->strata, confidence);
    strata_free(&s);
    return shift;
}

double worstcase_rank_variance(const Judged *judged) {
    double all = 0, sum = 0;
    for (guint s = 0; s < judged->strata; s++) {
        const double n = runs_size(judged->unit[0].within[s]);
        all += n;
        sum += n > 0 ? (n + 1) / 12 : 0;
    }
    return all > 0 ? sum / all : NAN;
}

// ---- by the spread between units ----

// Events and totals of the unit and of all, at the worst.
typedef struct {
    double x, n, all_x, all_n;
} Worst;

static Worst worst_counts(const WorstcaseUnit *w, double exposure_each) {
    const JudgedUnit *unit = &w->judged->unit[w->place], *all = &w->judged->unit[0];
    const double own = (double)unit->unknown, others = (double)(all->unknown - unit->unknown);
    const double more = w->side > 0 ? 0 : own, more_of_others = w->side > 0 ? others : 0;
    return (Worst){unit->events + more, unit->total + own * exposure_each,
                   all->events + more + more_of_others,
                   all->total + (own + others) * exposure_each};
}

static double judged_p(const WorstcaseUnit *w, double exact, double value, double centre,
                       double variance) {
    if (!((value - centre) * w->side > 0))
        return 1;
    return funnel_p(exact, value, centre, variance, w->tau2);
}

static double durations_p(const WorstcaseUnit *w) {
    const RankStrata r = worstcase_ranks(w->judged, w->place, w->side);
    return judged_p(w, r.two_sided, r.mean_rank, 0.5, r.variance);
}

static double share_p(const WorstcaseUnit *w) {
    const Worst c = worst_counts(w, 1);
    const double centre = c.all_x / c.all_n;
    return judged_p(w, funnel_binomial_p(c.x, c.n, centre), c.x / c.n, centre,
                    centre * (1 - centre) / c.n);
}

static double rate_p(const WorstcaseUnit *w) {
    const JudgedUnit *all = &w->judged->unit[0];
    const double per = w->indicator->per;
    const Worst c = worst_counts(w, all->known > 0 ? all->total / (double)all->known : 1);
    const double centre = c.all_x / c.all_n;
    return judged_p(w, control_clustered_p(c.x, c.n * centre, w->cluster), per * c.x / c.n,
                    per * centre, per * per * centre * w->cluster / c.n);
}

static double adjusted_p(const WorstcaseUnit *w) {
    const JudgedUnit *all = &w->judged->unit[0], *unit = &w->judged->unit[w->place];
    const CasemixUnit *m = &w->model->unit[w->place];
    const Worst c = worst_counts(w, 1);
    const double risks = c.all_x / c.all_n / (all->events / all->total);
    const double records = c.n / unit->total, expected = m->expected * records * risks;
    // as much less spread than one risk for all gives as the unit's known records have
    const double mean = expected / c.n;
    const double spread = m->variance / (m->expected * (1 - m->expected / unit->total));
    const double variance = expected * (1 - mean) * spread;
    return judged_p(w, 0, c.x / expected, 1, variance / (expected * expected));
}

double worstcase_p(const WorstcaseUnit *w) {
    if (w->model)
        return adjusted_p(w);
    if (w->indicator->measure == MEASURE_QUANTILE)
        return durations_p(w);
    return w->indicator->measure == MEASURE_SHARE ? share_p(w) : rate_p(w);
}
