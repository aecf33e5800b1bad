// SPDX-License-Identifier: GPL-3.0-or-later
// The slope of a log-linear trend is the one root of a monotone equation in it; the rest follows.
#include "stats/trend.h"
#include "stats/distribution.h"
#include "stats/logistic.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

static const TrendFit no_fit = {NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};

typedef struct {
    const double *events, *exposure, *x;
    size_t k;
} Series;

static double exposure_of(const Series *s, size_t i) {
    return s->exposure == NULL ? 1 : s->exposure[i];
}

static double time_of(const Series *s, size_t i) {
    return s->x == NULL ? (double)(i + 1) : s->x[i];
}

// What the periods with exposure add up to, each weighted by `weight` of it.
typedef struct {
    double periods, first, last;          // times
    double events, exposure;              // in all
    double event_time, time, time_spread; // mean time of an event, of exposure, and its variance
} Totals;

static Totals totals_of(const Series *s) {
    Totals t = {.first = INFINITY, .last = -INFINITY};
    for (size_t i = 0; i < s->k; i++) {
        double e = exposure_of(s, i), y = s->events[i], x = time_of(s, i);
        if (!(e >= 0 && y >= 0 && isfinite(e) && isfinite(y) && isfinite(x)) || (e == 0 && y > 0))
            return (Totals){.events = NAN};
        if (e == 0)
            continue;
        t.periods++;
        t.first = fmin(t.first, x);
        t.last = fmax(t.last, x);
        t.events += y;
        t.exposure += e;
        t.event_time += y * x;
        t.time += e * x;
    }
    t.event_time /= t.events;
    t.time /= t.exposure;
    for (size_t i = 0; i < s->k; i++)
        t.time_spread += exposure_of(s, i) * pow(time_of(s, i) - t.time, 2) / t.exposure;
    return t;
}

static bool has_trend(const Totals *t) {
    return t->events > 0 && t->last > t->first;
}

// Fitted shares of the events at a slope: their mean time and its variance, and the log of the sum
// of exposure times exp(slope (x - centre)).
typedef struct {
    double mean, variance, log_sum;
} Moments;

static Moments moments_at(const Series *s, double slope, double centre) {
    double highest = -INFINITY, sum = 0, mean = 0, variance = 0;
    for (size_t i = 0; i < s->k; i++)
        if (exposure_of(s, i) > 0)
            highest = fmax(highest, slope * (time_of(s, i) - centre) + log(exposure_of(s, i)));
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < s->k; i++) {
            double from = time_of(s, i) - centre;
            double weight = exposure_of(s, i) * exp(slope * from - highest);
            if (pass == 0) {
                sum += weight;
                mean += weight * from;
            } else {
                variance += weight * pow(from - mean / sum, 2);
            }
        }
    return (Moments){mean / sum, variance / sum, highest + log(sum)};
}

typedef struct {
    const Series *series;
    double centre, target, unit; // unit: spread of the times, so that the root is of order 1
} SlopeTarget;

static void slope_curve(double u, const void *context, double *value, double *slope) {
    const SlopeTarget *t = context;
    Moments m = moments_at(t->series, u / t->unit, t->centre);
    *value = (m.mean - t->target) / t->unit;
    *slope = m.variance / (t->unit * t->unit);
}

// Deviances, Pearson's chi-square and likelihood of the fitted means.
static void add_fit(const Series *s, const Totals *t, TrendFit *fit) {
    double pearson = 0;
    fit->deviance = fit->null_deviance = fit->log_likelihood = 0;
    for (size_t i = 0; i < s->k; i++) {
        double e = exposure_of(s, i), y = s->events[i], common = t->events / t->exposure * e;
        if (e == 0)
            continue;
        double log_mean = log(e) + fit->intercept + fit->slope * time_of(s, i);
        double mean = exp(log_mean);
        pearson += (y - mean) * (y - mean) / mean;
        fit->log_likelihood += y * log_mean - mean;
        fit->deviance += 2 * ((y > 0 ? y * (log(y) - log_mean) : 0) - (y - mean));
        fit->null_deviance += 2 * ((y > 0 ? y * log(y / common) : 0) - (y - common));
    }
    fit->deviance = fmax(0, fit->deviance);
    fit->phi = fit->df > 0 ? pearson / fit->df : NAN;
}

// Whether there are events at other times than this one.
static bool events_off(const Series *s, double time) {
    for (size_t i = 0; i < s->k; i++)
        if (s->events[i] > 0 && time_of(s, i) != time)
            return true;
    return false;
}

TrendFit trend_poisson(const double *events, const double *exposure, const double *x, size_t k) {
    Series s = {events, exposure, x, k};
    Totals t = totals_of(&s);
    TrendFit fit = no_fit;
    if (!has_trend(&t))
        return fit;
    fit.df = t.periods - 2;
    if (!events_off(&s, t.last) || !events_off(&s, t.first)) { // runs off towards one lone end
        fit.slope = events_off(&s, t.first) ? INFINITY : -INFINITY;
        return fit;
    }
    SlopeTarget target = {&s, t.time, t.event_time - t.time, sqrt(t.time_spread)};
    fit.slope = distribution_root(slope_curve, &target, 0) / target.unit;
    Moments m = moments_at(&s, fit.slope, t.time);
    fit.intercept = log(t.events) - m.log_sum - fit.slope * t.time;
    fit.slope_error = 1 / sqrt(t.events * m.variance);
    double centre = m.mean + t.time; // where the fitted events lie, slope and level are independent
    fit.intercept_error = sqrt(1 / t.events + pow(centre * fit.slope_error, 2));
    add_fit(&s, &t, &fit);
    return fit;
}

double trend_score(const double *events, const double *exposure, const double *x, size_t k,
                   double *p) {
    Series s = {events, exposure, x, k};
    Totals t = totals_of(&s);
    double apart = t.events * (t.event_time - t.time), variance = t.events * t.time_spread;
    double statistic = has_trend(&t) ? apart * apart / variance : NAN;
    if (p != NULL)
        *p = isnan(statistic) ? NAN : distribution_chisq_upper(statistic, 1);
    return statistic;
}

// ---- shares ----

static double pearson_of(const LogisticData *d, const double *coefficients) {
    double sum = 0;
    for (size_t i = 0; i < d->rows; i++) {
        double n = d->trials[i], p = logistic_risk(coefficients, d->design + 2 * i, 2);
        double apart = d->events[i] - n * p;
        if (n > 0)
            sum += apart == 0 ? 0 : apart * apart / (n * p * (1 - p));
    }
    return sum;
}

TrendFit trend_logistic(const double *events, const double *trials, const double *x, size_t k) {
    TrendFit fit = no_fit;
    Series s = {events, trials, x, k};
    Totals t = totals_of(&s);
    double *design = calloc(2 * k + 1, sizeof *design), b[2], v[4];
    if (design == NULL || !has_trend(&t) || t.events == t.exposure) {
        free(design);
        return fit;
    }
    for (size_t i = 0; i < k; i++) {
        design[2 * i] = 1;
        design[2 * i + 1] = time_of(&s, i);
    }
    LogisticData data = {design, events, trials, k, 2, NULL, 0};
    LogisticFit model = logistic_fit(&data, b, v);
    bool usable = model.status == LOGISTIC_CONVERGED || model.status == LOGISTIC_SEPARATED;
    if (usable && model.parameters == 2 && !isnan(b[1])) {
        fit = (TrendFit){b[0],     b[1],           sqrt(v[0]),          sqrt(v[3]),          NAN,
                         model.df, model.deviance, model.null_deviance, model.log_likelihood};
        if (isfinite(b[1]) && model.df > 0)
            fit.phi = pearson_of(&data, b) / model.df;
    }
    free(design);
    return fit;
}

// ---- limits ----

static StatsInterval ratio_at(const TrendFit *fit, double reach) {
    return (StatsInterval){exp(fit->slope), exp(fit->slope - reach), exp(fit->slope + reach)};
}

StatsInterval trend_ratio(const TrendFit *fit, double confidence) {
    return ratio_at(fit, distribution_normal_critical(confidence) * fit->slope_error);
}

StatsInterval trend_ratio_scaled(const TrendFit *fit, double confidence, double *p) {
    bool wide = fit->phi > 1;
    double error = fit->slope_error * (wide ? sqrt(fit->phi) : 1), z = fit->slope / error;
    double critical = distribution_normal_critical(confidence);
    if (wide && !isnan(critical))
        critical = gsl_cdf_tdist_Qinv((1 - confidence) / 2, fit->df);
    if (p != NULL) {
        *p = wide ? 2 * gsl_cdf_tdist_Q(fabs(z), fit->df) : distribution_normal_two_sided(z);
        if (isnan(z))
            *p = NAN;
    }
    return ratio_at(fit, critical * error);
}
