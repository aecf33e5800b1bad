// SPDX-License-Identifier: GPL-3.0-or-later
// Worst cases for what is unknown.
#include "measure/worstcase.h"

#include "stats/control.h"
#include "stats/funnel.h"

#include <math.h>
#include <string.h>

// ---- durations ----

// Room for the runs of durations, one more and their sums.
static double *room_for(const JudgedUnit *unit) {
    return g_new(double, 2 * (unit->minutes.k + 1));
}

RankTest worstcase_ranks(const JudgedUnit *unit, const JudgedUnit *all, int side) {
    const double own = side == 0 ? 0 : (double)unit->unknown;
    const double others = side == 0 ? 0 : (double)(all->unknown - unit->unknown);
    double *mine = room_for(unit), *rest = room_for(all), *more = room_for(all);
    const Runs x = runs_with(unit->minutes, side > 0 ? -1 : INFINITY, own, mine);
    const Runs y = runs_with(runs_without(all->minutes, unit->minutes, rest),
                             side > 0 ? INFINITY : -1, others, more);
    const RankTest t = rank_mann_whitney_runs(x, y, RANK_AUTO);
    g_free(mine);
    g_free(rest);
    g_free(more);
    return t;
}

StatsInterval worstcase_shift(const JudgedUnit *unit, const JudgedUnit *all, double confidence) {
    double *rest = room_for(all);
    const Runs others = runs_without(all->minutes, unit->minutes, rest);
    const StatsInterval shift = rank_hodges_lehmann_runs(unit->minutes, others, confidence);
    g_free(rest);
    return shift;
}

double worstcase_rank_variance(double all) {
    return all > 0 ? (all + 1) / (12 * all) : NAN;
}

double worstcase_mean_rank(double statistic, double n, double all, double *variance) {
    *variance = n > 0 ? worstcase_rank_variance(all) * (1 / n - 1 / all) : NAN;
    return n > 0 ? (statistic / n + n / 2) / all : NAN;
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
    const JudgedUnit *unit = &w->judged->unit[w->place], *all = &w->judged->unit[0];
    const RankTest t = worstcase_ranks(unit, all, w->side);
    const double own = (double)(unit->known + unit->unknown);
    double variance;
    const double rank =
        worstcase_mean_rank(t.statistic, own, (double)(all->known + all->unknown), &variance);
    return judged_p(w, t.two_sided, rank, 0.5, variance);
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
