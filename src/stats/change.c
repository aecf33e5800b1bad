// SPDX-License-Identifier: GPL-3.0-or-later
// Tests of change over time.
#include "stats/change.h"

#include "stats/control.h"
#include "stats/difference.h"
#include "stats/distribution.h"
#include "stats/funnel.h"
#include "stats/quantile.h"
#include "stats/rank.h"
#include "stats/ratio.h"
#include "stats/strata.h"
#include "stats/table.h"
#include "stats/trend.h"

#include <float.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double few = 10, df_each = 0.62, d2 = 1.128;

static int sign(double value) {
    return (value > 0) - (value < 0);
}

double change_value(ChangeMeasure measure, const ChangeCell *cell) {
    if (measure == CHANGE_MEDIAN)
        return strata_median(cell);
    return cell->total > 0 ? cell->events / cell->total : NAN;
}

static bool takes_part(ChangeMeasure measure, const ChangeCell *cell) {
    return cell->whole && (measure == CHANGE_MEDIAN ? strata_any(cell) : cell->total > 0);
}

// Columns of a series: what the tests work on, k values each, 0 or NaN for a period that takes no
// part. Freed with free(columns.value).
typedef struct {
    double *value, *events, *total;
    size_t periods;
} Columns;

static Columns columns_of(const ChangeSeries *s) {
    Columns c = {malloc((3 * s->k + 1) * sizeof(double)), NULL, NULL, 0};
    if (!c.value)
        return c;
    c.events = c.value + s->k;
    c.total = c.events + s->k;
    for (size_t i = 0; i < s->k; i++) {
        const bool part = takes_part(s->measure, &s->cell[i]);
        c.value[i] = part ? change_value(s->measure, &s->cell[i]) : NAN;
        c.events[i] = part ? s->cell[i].events : 0;
        c.total[i] = part ? s->cell[i].total : 0;
        c.periods += part;
    }
    return c;
}

// ---- the chart ----

static double cluster_of(const ChangeSeries *s) {
    double events = 0, squares = 0;
    for (size_t i = 0; s->measure == CHANGE_RATE && i < s->k; i++)
        if (takes_part(s->measure, &s->cell[i])) {
            events += s->cell[i].events;
            squares += s->cell[i].squares;
        }
    return events > 0 ? fmax(1, squares / events) : 1;
}

ChangeModel change_model(const ChangeSeries *s) {
    ChangeModel m = {NAN, NAN, cluster_of(s), {NAN, NAN, NAN}, 0, NAN};
    Columns c = columns_of(s);
    if (!c.value)
        return m;
    m.periods = c.periods;
    m.df = df_each * ((double)c.periods - 1);
    if (s->measure == CHANGE_MEDIAN) {
        m.xmr = control_xmr(c.value, s->k);
        m.centre = m.xmr.estimate;
        m.sigma = control_mean_range(c.value, s->k) / d2;
    } else {
        m.centre = control_centre(c.events, c.total, s->k);
        const double z = s->measure == CHANGE_SHARE
                             ? control_sigma_z_p(c.events, c.total, s->k, m.centre)
                             : control_sigma_z_u(c.events, c.total, s->k, m.centre);
        m.sigma = fmax(sqrt(m.cluster), isnan(z) ? 1 : z);
    }
    free(c.value);
    return m;
}

static bool is_exact(const ChangeSeries *s, const ChangeModel *m, const ChangeCell *cell) {
    const double expected = cell->total * m->centre;
    return s->measure == CHANGE_SHARE ? expected * (1 - m->centre) < few : expected < few;
}

StatsInterval change_limits(const ChangeSeries *s, const ChangeModel *m, const ChangeCell *cell) {
    if (s->measure == CHANGE_MEDIAN)
        return m->xmr;
    const bool exact = is_exact(s, m, cell);
    if (s->measure == CHANGE_SHARE)
        return exact ? control_p_exact(m->centre, cell->total)
                     : control_p(m->centre, cell->total, m->sigma);
    if (!exact)
        return control_u(m->centre, cell->total, m->sigma);
    return m->cluster > 1 ? control_u_clustered(m->centre, cell->total, m->cluster)
                          : control_u_exact(m->centre, cell->total);
}

// What the chart alone says.
static double chart_tail(const ChangeSeries *s, const ChangeModel *m, const ChangeCell *cell) {
    if (!takes_part(s->measure, cell) || isnan(m->centre))
        return NAN;
    const bool median = s->measure == CHANGE_MEDIAN, share = s->measure == CHANGE_SHARE;
    if (!median && is_exact(s, m, cell))
        return share ? funnel_binomial_p(cell->events, cell->total, m->centre)
                     : control_clustered_p(cell->events, cell->total * m->centre, m->cluster);
    const double one = median ? 1 : sqrt(m->centre * (share ? 1 - m->centre : 1) / cell->total);
    const double z = fabs(change_value(s->measure, cell) - m->centre) / (one * m->sigma);
    if (isnan(z)) // no spread at all, and on the centre
        return m->sigma == 0 ? 1 : NAN;
    const bool estimated = median || m->sigma > sqrt(m->cluster);
    return estimated ? 2 * gsl_cdf_tdist_Q(z, m->df) : distribution_normal_two_sided(z);
}

// p of a period's durations against those of all others, if they lie where its median does.
static double others_tail(const ChangeSeries *s, const ChangeModel *m, const ChangeCell *cell) {
    const RankStrata r = strata_against(s, cell);
    const bool against = sign(r.ahead) * sign(change_value(s->measure, cell) - m->centre) < 0;
    return against || isnan(r.two_sided) ? 1 : r.two_sided;
}

double change_tail(const ChangeSeries *s, const ChangeModel *m, const ChangeCell *cell) {
    const double chart = chart_tail(s, m, cell);
    if (s->measure != CHANGE_MEDIAN || isnan(chart))
        return chart;
    return fmax(chart, others_tail(s, m, cell));
}

double change_point(const ChangeSeries *s, size_t *at) {
    const ChangeModel m = change_model(s);
    const bool median = s->measure == CHANGE_MEDIAN;
    double least = INFINITY;
    if (m.periods < (median ? CHANGE_FEWEST_MEDIANS : CHANGE_FEWEST))
        return NAN;
    for (size_t i = 0; i < s->k; i++) {
        double p = chart_tail(s, &m, &s->cell[i]);
        if (median && p < least) // else the greater of the two can't be less
            p = fmax(p, others_tail(s, &m, &s->cell[i]));
        if (p < least) {
            least = p;
            *at = i;
        }
    }
    return isinf(least) ? NAN : fmin(1, (double)m.periods * least);
}

void change_levels(const ChangeSeries *s, double *level) {
    if (s->level) {
        memcpy(level, s->level, s->k * sizeof *level);
        return;
    }
    if (s->measure == CHANGE_MEDIAN) {
        strata_levels(s, level);
        return;
    }
    for (size_t i = 0; i < s->k; i++)
        level[i] =
            takes_part(s->measure, &s->cell[i]) ? change_value(s->measure, &s->cell[i]) : NAN;
}

double change_shift(const ChangeSeries *s, RunChart *chart, int *side) {
    double *level = malloc((s->k + 1) * sizeof *level);
    if (!level)
        return NAN;
    change_levels(s, level);
    const RunChart runs = run_chart(level, s->k);
    if (chart)
        *chart = runs;
    *side = 0;
    for (size_t i = 0; i < s->k; i++) {
        const int here = (level[i] > runs.median) - (level[i] < runs.median);
        *side = here ? here : *side;
    }
    free(level);
    return run_chart_p(&runs);
}

// ---- trend ----

// The median of all slopes between two of the periods that take part, a year, and its limits.
static StatsInterval sen_slope(const double *value, size_t k, size_t periods, double per_year,
                               double confidence) {
    StatsInterval sen = {NAN, NAN, NAN};
    double *slope = malloc((k * k + 1) * sizeof *slope);
    size_t n = 0;
    if (!slope)
        return sen;
    for (size_t i = 0; i < k; i++)
        for (size_t j = i + 1; j < k; j++)
            if (!isnan(value[i]) && !isnan(value[j]))
                slope[n++] = (value[j] - value[i]) / (double)(j - i) * per_year;
    quantile_sort(slope, n);
    sen.estimate = quantile_hf2(slope, n, 0.5);
    const double p = (double)periods, half = distribution_normal_critical(confidence) *
                                             sqrt(p * (p - 1) * (2 * p + 5) / 18);
    const double rank = floor(((double)n - half) / 2);
    if (rank >= 1) {
        sen.lower = slope[(size_t)rank - 1];
        sen.upper = slope[n - (size_t)rank];
    }
    free(slope);
    return sen;
}

static void trend_of_medians(const ChangeSeries *s, Columns *c, double confidence,
                             ChangeTrend *trend) {
    size_t n = 0;
    change_levels(s, c->value);
    trend->ratio = sen_slope(c->value, s->k, c->periods, s->per_year, confidence);
    for (size_t i = 0; i < s->k; i++)
        if (!isnan(c->value[i]))
            c->events[n++] = c->value[i];
    double tau;
    trend->p = rank_kendall(NULL, c->events, n, RANK_AUTO, &tau).two_sided;
}

static void trend_of_counts(const ChangeSeries *s, Columns *c, double confidence,
                            ChangeTrend *trend) {
    const double cluster = cluster_of(s);
    for (size_t i = 0; i < s->k; i++) {
        c->value[i] = (double)i / s->per_year;
        c->events[i] /= cluster;
        c->total[i] /= cluster;
    }
    const TrendFit fit = s->measure == CHANGE_SHARE
                             ? trend_logistic(c->events, c->total, c->value, s->k)
                             : trend_poisson(c->events, c->total, c->value, s->k);
    trend->ratio = trend_ratio_scaled(&fit, confidence, &trend->p);
}

ChangeTrend change_trend(const ChangeSeries *s, double confidence) {
    ChangeTrend trend = {{NAN, NAN, NAN}, NAN, 0};
    Columns c = columns_of(s);
    if (!c.value)
        return trend;
    trend.periods = c.periods;
    if (c.periods >= CHANGE_FEWEST && s->measure == CHANGE_MEDIAN)
        trend_of_medians(s, &c, confidence, &trend);
    else if (c.periods >= CHANGE_FEWEST)
        trend_of_counts(s, &c, confidence, &trend);
    free(c.value);
    return trend;
}

// ---- one period against another ----

static void share_step(const ChangeCell *now, const ChangeCell *then, double confidence,
                       ChangeStep *step) {
    const double cells[] = {now->events, now->total - now->events, then->events,
                            then->total - then->events};
    step->effect =
        difference_newcombe(now->events, now->total, then->events, then->total, confidence);
    step->p = table_fisher(cells).midp;
}

// Variance of the log rate.
static double log_variance(ChangeMeasure measure, const ChangeCell *cell, double dispersion) {
    const double plain = cell->events * (measure == CHANGE_VOLUME ? dispersion : 1);
    return (measure == CHANGE_RATE ? cell->squares : plain) / (cell->events * cell->events);
}

static void rate_step(ChangeMeasure measure, const ChangeCell *now, const ChangeCell *then,
                      double dispersion, double confidence, ChangeStep *step) {
    const bool clustered =
        measure == CHANGE_RATE && (now->squares > now->events || then->squares > then->events);
    const bool dispersed = measure == CHANGE_VOLUME && dispersion > 1;
    if (!(clustered || dispersed) || now->events == 0 || then->events == 0) {
        step->effect = ratio_exact(now->events, now->total, then->events, then->total, confidence);
        step->p = ratio_test(now->events, now->total, then->events, then->total, 1);
        return;
    }
    const double log_ratio = log(step->now / step->then);
    const double error =
        sqrt(log_variance(measure, now, dispersion) + log_variance(measure, then, dispersion));
    const double half = distribution_normal_critical(confidence) * error;
    step->effect = (StatsInterval){exp(log_ratio), exp(log_ratio - half), exp(log_ratio + half)};
    step->z = log_ratio / error;
    step->p = distribution_normal_two_sided(step->z);
}

ChangeStep change_between(ChangeMeasure measure, const ChangeCell *now, const ChangeCell *then,
                          double dispersion, double confidence) {
    ChangeStep step = {NAN, NAN, {NAN, NAN, NAN}, NAN, 0, NAN};
    if (!takes_part(measure, now) || !takes_part(measure, then))
        return step;
    step.now = change_value(measure, now);
    step.then = change_value(measure, then);
    step.side = sign(step.now - step.then);
    if (measure == CHANGE_SHARE) {
        share_step(now, then, confidence, &step);
    } else if (measure == CHANGE_MEDIAN) {
        const RankStrata r = strata_between(now, then);
        step.effect = strata_shift(now, then, confidence);
        step.z = r.z;
        step.p = r.two_sided;
        step.side = sign(r.ahead);
    } else {
        rate_step(measure, now, then, dispersion, confidence, &step);
    }
    return step;
}

// ---- allowing for what differs from period to period ----

double change_spread(const ChangeSeries *s, const ChangeModel *m) {
    const double spread =
        s->measure == CHANGE_MEDIAN ? strata_spread(s) : m->sigma / sqrt(m->cluster);
    return spread > 1 ? spread : 1;
}

// p at a deviate that is less by a factor.
static double lessened_p(const ChangeStep *step, double by) {
    const double z =
        isnan(step->z) ? distribution_normal_quantile(fmax(step->p / 2, DBL_MIN)) : step->z;
    return distribution_normal_two_sided(z / by);
}

ChangeStep change_between_spread(ChangeMeasure measure, const ChangeCell *now,
                                 const ChangeCell *then, double spread, double confidence) {
    if (measure == CHANGE_VOLUME)
        return change_between(measure, now, then, spread * spread, confidence);
    if (!(spread > 1))
        return change_between(measure, now, then, 1, confidence);
    const double z = distribution_normal_critical(confidence) * spread,
                 beyond = distribution_normal_two_sided(z);
    const bool told = 1 - beyond < 1, median = measure == CHANGE_MEDIAN;
    ChangeStep step = change_between(measure, now, then, 1,
                                     median ? NAN
                                     : told ? 1 - beyond
                                            : confidence);
    if (median && !isnan(step.p))
        step.effect = strata_shift_deviate(now, then, z);
    else if (!told)
        step.effect.lower = step.effect.upper = NAN;
    step.p = isnan(step.p) ? NAN : lessened_p(&step, spread);
    return step;
}

// ---- rare events ----

// log of n choose x less that of m choose x, m <= n.
static double log_choose_ratio(double m, double n, double x) {
    return m < x ? -INFINITY
                 : gsl_sf_lngamma(m + 1) - gsl_sf_lngamma(m - x + 1) - gsl_sf_lngamma(n + 1) +
                       gsl_sf_lngamma(n - x + 1);
}

// P(a gap is at least g), given its x events among n.
static double among_records(double g, double n, double x) {
    return g <= 0 ? 1 : exp(log_choose_ratio(n - g, n, x));
}

static double in_time(double g, double time, double x) {
    return g <= 0 ? 1 : g >= time ? 0 : pow(1 - g / time, x);
}

static double extreme(const double *gap, size_t gaps, double whole, bool records, size_t *at,
                      bool *longer) {
    double least = INFINITY;
    const double x = (double)gaps + 1;
    if (gaps < CHANGE_FEWEST)
        return NAN;
    for (size_t i = 0; i < gaps; i++) {
        const double upper = records ? among_records(gap[i], whole, x) : in_time(gap[i], whole, x);
        const double lower =
            1 - (records ? among_records(gap[i] + 1, whole, x) : in_time(gap[i] + 1, whole, x));
        if (2 * fmin(upper, lower) < least) {
            least = 2 * fmin(upper, lower);
            *at = i;
            *longer = upper < lower;
        }
    }
    return fmin(1, (double)gaps * least);
}

double change_gap(const double *gap, size_t gaps, double records, size_t *at, bool *longer) {
    return extreme(gap, gaps, records, true, at, longer);
}

double change_gap_time(const double *gap, size_t gaps, double time, size_t *at, bool *longer) {
    return extreme(gap, gaps, time, false, at, longer);
}
