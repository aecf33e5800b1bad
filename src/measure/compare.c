// SPDX-License-Identifier: GPL-3.0-or-later
// Units against their network. First every funnel is laid out, since what spread is typical is
// known only from all of them; then units are judged, then all p-values adjusted together.
#include "measure/compare.h"

#include "base/parallel.h"

#include "measure/judged.h"
#include "measure/worstcase.h"
#include "stats/control.h"
#include "stats/expected.h"
#include "stats/funnel.h"
#include "stats/multiple.h"
#include "stats/proportion.h"
#include "stats/quantile.h"
#include "stats/rank.h"
#include "stats/ranking.h"
#include "stats/rate.h"
#include "stats/shrinkage.h"

#include <math.h>
#include <string.h>

// A funnel at work: what its rows were made of.
typedef struct {
    const Indicator *in;
    Judged *judged;
    const Casemix *model;             // of an adjusted funnel
    double *value, *variance, *scale; // by row; scale: records, exposure/per, or expected events;
                                      // of durations the value is the mean rank
    RankStrata *ranks;                // by row (durations)
    double *rank_tau2;                // by row: spread of mean ranks (durations)
    double record;                    // variance of one record
    double relative;                  // spread without anybody left out, over `record`
} Work;

static Comparison *row_of(const Comparisons *c, const Funnel *f, guint i) {
    return &g_array_index(c->rows, Comparison, f->first + i);
}

static Funnel *funnel_of(const Comparisons *c, guint i) {
    return &g_array_index(c->funnels, Funnel, i);
}

static bool moderated(const Work *w) {
    return w->in->measure != MEASURE_RATE;
}

// ---- laying out ----

// Of a rate the value is per `per` units of exposure: its variance is that of a count of events
// in clusters over the square of scale.
static void lay_share_or_rate(const Work *w, Funnel *f, const JudgedUnit *u, guint i,
                              double confidence, Comparison *row) {
    const bool rate = w->in->measure == MEASURE_RATE;
    row->events = u->events;
    row->total = u->total;
    w->scale[i] = rate ? u->total / w->in->per : u->total;
    w->value[i] = u->events / w->scale[i];
    w->variance[i] = (rate ? f->centre * f->cluster : f->centre * (1 - f->centre)) / w->scale[i];
    row->expected = w->scale[i] * f->centre;
    if (!rate) {
        row->value = proportion_wilson(u->events, u->total, confidence);
        return;
    }
    row->value = rate_fay_feuer(u->events, u->squares, MAX(u->largest, 1), u->total, confidence);
    row->value.estimate *= w->in->per;
    row->value.lower *= w->in->per;
    row->value.upper *= w->in->per;
}

static void lay_adjusted(const Work *w, guint place, guint i, double confidence, Comparison *row) {
    const CasemixUnit *m = &w->model->unit[place];
    row->events = m->observed;
    row->total = w->judged->unit[place].total;
    row->expected = w->scale[i] = m->expected;
    w->value[i] = m->observed / m->expected;
    w->variance[i] = m->variance / (m->expected * m->expected);
    if (row->total > 0)
        row->value = expected_ratio(m->observed, m->expected, confidence);
}

static void lay_row(const Work *w, Funnel *f, guint place, double confidence, Comparison *row) {
    const JudgedUnit *u = &w->judged->unit[place];
    const guint i = place - 1;
    row->unknown = (double)u->unknown;
    if (w->model) {
        lay_adjusted(w, place, i, confidence, row);
    } else if (w->in->measure == MEASURE_QUANTILE) {
        row->total = runs_size(u->minutes);
        w->scale[i] = row->total;
        row->value = quantile_interval_of_runs(u->minutes, 0.5, confidence);
        w->ranks[i] = worstcase_ranks(w->judged, place, 0);
        w->value[i] = w->ranks[i].mean_rank;
        w->variance[i] = w->ranks[i].variance;
    } else {
        lay_share_or_rate(w, f, u, i, confidence, row);
    }
    row->centre = f->centre;
    f->units += row->total > 0;
}

static double centre_of(const Work *w) {
    const JudgedUnit *all = &w->judged->unit[0];
    if (w->model)
        return 1;
    if (w->in->measure == MEASURE_QUANTILE)
        return quantile_of_runs(all->minutes, 0.5);
    return all->events / all->total * (w->in->measure == MEASURE_RATE ? w->in->per : 1);
}

static double record_of(const Work *w, const Funnel *f) {
    if (w->in->measure == MEASURE_QUANTILE)
        return worstcase_rank_variance(w->judged);
    if (!w->model)
        return w->in->measure == MEASURE_RATE ? f->centre * f->cluster
                                              : f->centre * (1 - f->centre);
    const CasemixUnit *all = &w->model->unit[0];
    return all->variance * w->model->records / (all->expected * all->expected);
}

static RankGroups kruskal_wallis(const Judged *j) {
    Runs *group = g_new(Runs, j->units);
    for (guint u = 1; u < j->units; u++)
        group[u - 1] = j->unit[u].minutes;
    const RankGroups alike = rank_kruskal_wallis_runs(j->unit[0].minutes, group, j->units - 1);
    g_free(group);
    return alike;
}

static void find_spread(Work *w, Funnel *f, guint rows) {
    double *z = g_new(double, rows + 1);
    for (guint i = 0; i < rows; i++)
        z[i] = w->scale[i] > 0 ? funnel_z(w->value[i], f->centre, w->variance[i]) : NAN;
    f->phi = funnel_phi(rows, z);
    g_free(z);
    const FunnelUnits units = {rows, w->value, w->variance, w->record};
    w->relative = funnel_own_tau2(&units, FUNNEL_NOBODY, NULL) / w->record;
}

static const Comparison empty_row = {.events = NAN,
                                     .total = NAN,
                                     .expected = NAN,
                                     .value = {NAN, NAN, NAN},
                                     .low_95 = NAN,
                                     .high_95 = NAN,
                                     .low_998 = NAN,
                                     .high_998 = NAN,
                                     .p = NAN,
                                     .q = NAN,
                                     .phi = NAN,
                                     .tau2 = NAN,
                                     .shrunk = NAN,
                                     .own_weight = NAN,
                                     .effect = {NAN, NAN, NAN}};

static void lay_out(Comparisons *c, const CountData *data, GArray *works, Work *w, guint index,
                    const Casemix *shown) {
    const guint rows = w->judged->units - 1;
    const JudgedUnit *all = &w->judged->unit[0];
    Funnel f = {.indicator = (uint16_t)index,
                .kind = w->model ? COMPARE_ADJUSTED : COMPARE_CRUDE,
                .first = c->rows->len,
                .rows = rows,
                .centre = centre_of(w),
                .mean_risk = all->events / all->total,
                .cluster = w->in->measure == MEASURE_RATE && all->events > 0
                               ? MAX(1, all->squares / all->events)
                               : 1,
                .phi = NAN,
                .band_tau2 = NAN,
                .alike = {NAN, NAN, NAN},
                .model = shown};
    w->value = g_new(double, rows + 1);
    w->variance = g_new(double, rows + 1);
    w->scale = g_new(double, rows + 1);
    w->ranks = g_new(RankStrata, rows + 1);
    w->rank_tau2 = g_new(double, rows + 1);
    for (guint i = 0; i < rows; i++) {
        Comparison row = empty_row;
        row.indicator = f.indicator;
        row.kind = f.kind;
        row.unit = g_array_index(data->units, uint16_t, i + 1);
        lay_row(w, &f, i + 1, c->confidence, &row);
        g_array_append_val(c->rows, row);
    }
    w->record = record_of(w, &f);
    w->relative = NAN;
    if (w->in->measure == MEASURE_QUANTILE)
        f.alike = kruskal_wallis(w->judged);
    else
        find_spread(w, &f, rows);
    g_array_append_val(c->funnels, f);
    g_array_append_val(works, *w);
}

// ---- judging ----

static double exact_limit(const Work *w, const Funnel *f, guint i, int tail) {
    static const double tails[] = {0.001, 0.025, 0.975, 0.999};
    if (w->model)
        return w->model->unit[i + 1].limit[tail];
    if (w->in->measure == MEASURE_SHARE)
        return funnel_binomial_limit(f->centre, w->scale[i], tails[tail]);
    return f->centre * funnel_poisson_limit(w->scale[i] * f->centre / f->cluster, tails[tail]);
}

static void limit_row(const Work *w, const Funnel *f, guint i, Comparison *row) {
    const double highest = w->in->measure == MEASURE_SHARE && !w->model ? 1 : INFINITY;
    const StatsInterval wide = {f->centre, exact_limit(w, f, i, 0), exact_limit(w, f, i, 3)};
    const StatsInterval narrow = {f->centre, exact_limit(w, f, i, 1), exact_limit(w, f, i, 2)};
    const StatsInterval a =
        funnel_limits(narrow, f->centre, w->variance[i], row->tau2, 0.95, highest);
    const StatsInterval b =
        funnel_limits(wide, f->centre, w->variance[i], row->tau2, 0.998, highest);
    row->low_95 = a.lower;
    row->high_95 = a.upper;
    row->low_998 = b.lower;
    row->high_998 = b.upper;
}

static double exact_p(const Work *w, const Funnel *f, guint i, const Comparison *row) {
    if (w->model)
        return w->model->unit[i + 1].p;
    if (w->in->measure == MEASURE_SHARE)
        return funnel_binomial_p(row->events, row->total, f->centre);
    return control_clustered_p(row->events, row->expected, f->cluster);
}

static void judge_median(const Work *w, guint i, double confidence, Comparison *row) {
    const RankStrata *r = &w->ranks[i];
    row->p = funnel_p(r->two_sided, r->mean_rank, 0.5, r->variance, w->rank_tau2[i]);
    row->effect = worstcase_shift(w->judged, i + 1, confidence);
    row->side = (r->ahead > 0) - (r->ahead < 0);
}

static void judge(const Comparisons *c, const Work *w, const Funnel *f) {
    const FunnelUnits units = {f->rows, w->value, w->variance, w->record};
    for (guint i = 0; i < f->rows; i++) {
        Comparison *row = row_of(c, f, i);
        if (!(row->total > 0) || f->units < 2)
            continue;
        if (w->in->measure == MEASURE_QUANTILE) {
            w->rank_tau2[i] = funnel_tau2(&units, i, c->typical);
            judge_median(w, i, c->confidence, row);
            continue;
        }
        row->phi = f->phi;
        row->tau2 = funnel_tau2(&units, i, moderated(w) ? c->typical : NAN);
        row->side = (w->value[i] > f->centre) - (w->value[i] < f->centre);
        row->p = funnel_p(exact_p(w, f, i, row), w->value[i], f->centre, w->variance[i], row->tau2);
        limit_row(w, f, i, row);
    }
}

// ---- all looks together ----

static void adjust(Comparisons *c) {
    const guint n = c->rows->len;
    double *p = g_new(double, n + 1), *q = g_new(double, n + 1);
    for (guint i = 0; i < n; i++)
        p[i] = g_array_index(c->rows, Comparison, i).p;
    const bool good = multiple_benjamini_hochberg(p, n, q);
    for (guint i = 0; good && i < n; i++) {
        Comparison *row = &g_array_index(c->rows, Comparison, i);
        row->q = q[i];
        row->flagged = q[i] <= COMPARE_LEVEL;
    }
    c->cut = multiple_benjamini_hochberg_cut(q, n, COMPARE_LEVEL);
    g_free(p);
    g_free(q);
}

static void find_band(const Comparisons *c, const Work *w, Funnel *f) {
    if (w->in->measure == MEASURE_QUANTILE)
        return;
    bool *flagged = g_new(bool, f->rows + 1);
    for (guint i = 0; i < f->rows; i++)
        flagged[i] = row_of(c, f, i)->flagged;
    const FunnelUnits units = {f->rows, w->value, w->variance, w->record};
    f->band_tau2 = funnel_band_tau2(&units, flagged, moderated(w) ? c->typical : NAN);
    g_free(flagged);
}

static void find_robust(const Comparisons *c, const Work *w, const Funnel *f) {
    for (guint i = 0; i < f->rows; i++) {
        Comparison *row = row_of(c, f, i);
        if (!row->flagged)
            continue;
        const WorstcaseUnit unit = {.indicator = w->in,
                                    .judged = w->judged,
                                    .place = i + 1,
                                    .model = w->model,
                                    .cluster = f->cluster,
                                    .side = row->side,
                                    .tau2 = w->in->measure == MEASURE_QUANTILE ? w->rank_tau2[i]
                                                                               : row->tau2};
        const bool stays = worstcase_p(&unit) <= c->cut;
        row->robust = stays ? COMPARE_ROBUST : COMPARE_RESTS;
        row->rests_on = stays ? 0 : (double)w->judged->unit[0].unknown;
    }
}

// ---- shrinkage and ranks ----

static void shrink(const Comparisons *c, const Work *w, const Funnel *f) {
    double *events = g_new0(double, f->rows + 1);
    for (guint i = 0; i < f->rows; i++)
        events[i] = row_of(c, f, i)->events;
    const bool beta = w->in->measure == MEASURE_SHARE && !w->model;
    const ShrinkagePrior prior = beta ? shrinkage_beta_binomial(events, w->scale, f->rows)
                                      : shrinkage_gamma_poisson(events, w->scale, f->rows);
    for (guint i = 0; i < f->rows; i++) {
        Comparison *row = row_of(c, f, i);
        row->shrunk = (beta ? shrinkage_beta_posterior : shrinkage_gamma_posterior)(
                          &prior, events[i], w->scale[i], c->confidence, &row->own_weight)
                          .estimate;
    }
    g_free(events);
}

static StatsInterval simultaneous(const Work *w, const Comparison *row, guint place,
                                  double confidence) {
    const JudgedUnit *u = &w->judged->unit[place];
    if (w->model)
        return row->expected > 0 ? expected_ratio(row->events, row->expected, confidence)
                                 : empty_row.value;
    if (w->in->measure == MEASURE_QUANTILE)
        return quantile_interval_of_runs(u->minutes, 0.5, confidence);
    if (w->in->measure == MEASURE_SHARE)
        return proportion_clopper_pearson(u->events, u->total, confidence);
    return rate_fay_feuer(u->events, u->squares, MAX(u->largest, 1), u->total, confidence);
}

static void rank(const Comparisons *c, const Work *w, const Funnel *f) {
    StatsInterval *intervals = g_new(StatsInterval, f->rows + 1);
    const double confidence = ranking_confidence(f->units, c->confidence);
    for (guint i = 0; i < f->rows; i++)
        intervals[i] = simultaneous(w, row_of(c, f, i), i + 1, confidence);
    for (guint i = 0; i < f->rows; i++) {
        size_t best, worst;
        ranking_limits(intervals, f->rows, i, &best, &worst);
        row_of(c, f, i)->rank_low = (unsigned)best;
        row_of(c, f, i)->rank_high = (unsigned)worst;
    }
    g_free(intervals);
}

// ---- the whole ----

// Records of the judged indicators and their case-mix models, gathered side by side.
typedef struct {
    const Counted *c;
    double confidence;
    Judged **judged;  // by indicator, NULL if it is not judged
    Casemix **models; // by indicator, NULL if it is not adjusted
} Gatherer;

// The models of all indicators, which take longest, then their records.
static void gather(unsigned job, void *user) {
    const Gatherer *g = user;
    const guint n = g->c->catalogue->len, k = job % n;
    const Indicator *in = g->c->catalogue->pdata[k];
    if (job >= n && catalogue_judges(in))
        g->judged[k] = judged_gather(g->c->data, in, g->c->tally[k]);
    else if (job < n && casemix_is(in))
        g->models[k] = casemix_fit(g->c->data, in, g->confidence);
}

static void lay_out_all(Comparisons *c, const Counted *counted, GArray *works, int threads) {
    const guint n = c->catalogue->len;
    const CountData *data = counted->data;
    Gatherer g = {counted, c->confidence, g_new0(Judged *, n + 1), g_new0(Casemix *, n + 1)};
    parallel_each(2 * n, threads, gather, &g);
    for (guint k = 0; k < n; k++) {
        const Indicator *in = c->catalogue->pdata[k];
        Casemix *model = g.models[k];
        if (!g.judged[k])
            continue;
        if (model)
            g_ptr_array_add(c->models, model);
        lay_out(c, data, works, &(Work){.in = in, .judged = g.judged[k]}, k, model);
        if (model && model->fitted)
            lay_out(c, data, works, &(Work){.in = in, .judged = g.judged[k], .model = model}, k,
                    model);
    }
    g_free(g.judged);
    g_free(g.models);
}

static double typical_of(const GArray *works) {
    double *relative = g_new(double, works->len + 1);
    for (guint i = 0; i < works->len; i++) {
        const Work *w = &g_array_index(works, Work, i);
        relative[i] = w->in->measure == MEASURE_SHARE ? w->relative : NAN;
    }
    const double typical = funnel_typical(works->len, relative);
    g_free(relative);
    return typical;
}

static void free_works(GArray *works) {
    for (guint i = 0; i < works->len; i++) {
        Work *w = &g_array_index(works, Work, i);
        if (!w->model) // an adjusted funnel shares the crude one's
            judged_free(w->judged);
        g_free(w->value);
        g_free(w->variance);
        g_free(w->scale);
        g_free(w->ranks);
        g_free(w->rank_tau2);
    }
    g_array_unref(works);
}

static void free_model(gpointer model) {
    casemix_free(model);
}

// The works of a report, each on its own rows.
typedef struct {
    Comparisons *c;
    GArray *works;
} Bench;

static void judge_work(unsigned i, void *user) {
    const Bench *b = user;
    judge(b->c, &g_array_index(b->works, Work, i), funnel_of(b->c, i));
}

static void finish_work(unsigned i, void *user) {
    const Bench *b = user;
    const Work *w = &g_array_index(b->works, Work, i);
    Funnel *f = funnel_of(b->c, i);
    find_band(b->c, w, f);
    find_robust(b->c, w, f);
    if (w->in->measure != MEASURE_QUANTILE)
        shrink(b->c, w, f);
    rank(b->c, w, f);
}

Comparisons *compare_all(const Counted *counted, double confidence, int threads) {
    Comparisons *c = g_new0(Comparisons, 1);
    *c = (Comparisons){.catalogue = counted->catalogue,
                       .t = counted->data->t,
                       .rows = g_array_new(FALSE, FALSE, sizeof(Comparison)),
                       .funnels = g_array_new(FALSE, FALSE, sizeof(Funnel)),
                       .models = g_ptr_array_new_with_free_func(free_model),
                       .period = "all",
                       .confidence = confidence};
    GArray *works = g_array_new(FALSE, FALSE, sizeof(Work));
    lay_out_all(c, counted, works, threads);
    c->typical = typical_of(works);
    Bench bench = {c, works};
    parallel_each(works->len, threads, judge_work, &bench);
    adjust(c);
    parallel_each(works->len, threads, finish_work, &bench);
    free_works(works);
    return c;
}

void compare_free(Comparisons *c) {
    if (!c)
        return;
    g_array_unref(c->rows);
    g_array_unref(c->funnels);
    g_ptr_array_unref(c->models);
    g_free(c);
}

StatsInterval compare_band(const Comparisons *c, const Funnel *f, double size, double confidence) {
    const Indicator *in = c->catalogue->pdata[f->indicator];
    const double tail = (1 - confidence) / 2, p = f->mean_risk;
    if (f->kind == COMPARE_ADJUSTED) { // as if every record had the mean risk
        const double n = MAX(1, round(size / p));
        const StatsInterval exact = {1, funnel_binomial_limit(p, n, tail) / p,
                                     funnel_binomial_limit(p, n, 1 - tail) / p};
        return funnel_limits(exact, 1, (1 - p) / size, f->band_tau2, confidence, INFINITY);
    }
    if (in->measure == MEASURE_SHARE)
        return funnel_binomial_limits(size, f->centre, f->band_tau2, confidence);
    const double expected = size / in->per * f->centre / f->cluster;
    const StatsInterval exact = {f->centre, f->centre * funnel_poisson_limit(expected, tail),
                                 f->centre * funnel_poisson_limit(expected, 1 - tail)};
    return funnel_limits(exact, f->centre, f->centre * f->cluster / (size / in->per), f->band_tau2,
                         confidence, INFINITY);
}

char *compare_robust(CompareRobust robust, double rests_on) {
    if (robust == COMPARE_NO_SIGNAL)
        return g_strdup("");
    if (robust == COMPARE_ROBUST)
        return g_strdup("robust");
    return g_strdup_printf("rests on %.0f unknown record%s", rests_on, rests_on == 1 ? "" : "s");
}
