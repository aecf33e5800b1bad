// SPDX-License-Identifier: GPL-3.0-or-later
// Beta-binomial and gamma-Poisson by maximum likelihood, and posteriors.
#include "stats/shrinkage.h"

#include "stats/distribution.h"

#include <gsl/gsl_sf_gamma.h>
#include <gsl/gsl_sf_psi.h>
#include <math.h>

static const ShrinkagePrior none = {NAN, NAN, NAN, false};

// ---- psi(a + x) - psi(a) and psi'(a) - psi'(a + x), x whole, without cancellation ----

static double rise(double a, double x) {
    double sum = 0;
    if (x <= 8) {
        for (size_t i = 0; i < (size_t)x; i++)
            sum += 1 / (a + (double)i);
        return sum;
    }
    if (a < 50)
        return gsl_sf_psi(a + x) - gsl_sf_psi(a);
    const double b = a + x, u = 1 / (a * a), v = 1 / (b * b);
    return log1p(x / a) + (1 / a - 1 / b) / 2 + (u - v) / 12 - (u * u - v * v) / 120 +
           (u * u * u - v * v * v) / 252;
}

static double rise_slope(double a, double x) {
    double sum = 0;
    if (x <= 8) {
        for (size_t i = 0; i < (size_t)x; i++)
            sum += 1 / ((a + (double)i) * (a + (double)i));
        return sum;
    }
    if (a < 50)
        return gsl_sf_psi_1(a) - gsl_sf_psi_1(a + x);
    const double b = a + x, u = 1 / (a * a), v = 1 / (b * b);
    return x / (a * b) + (u - v) / 2 + (u / a - v / b) / 6;
}

// ---- a family of spreads, by size at the best mean ----

// amount: n or t of each unit.
typedef struct {
    const double *x, *amount;
    size_t k;
} Units;

typedef struct {
    // Of the log likelihood at a size and mean: derivative by the mean's coordinate, and by log
    // size; and its value but for a constant. `limit` is the value for an endless size.
    void (*mean_curve)(double coordinate, const void *context, double *value, double *slope);
    double (*by_size)(const Units *units, double size, double coordinate);
    double (*value)(const Units *units, double size, double coordinate);
    double (*limit)(const Units *units);
} Family;

typedef struct {
    const Units *units;
    double size;
} AtSize;

// Coordinate of the best mean at a size; start: where to begin.
static double best_mean(const Family *family, const Units *units, double size, double start) {
    const AtSize at = {units, size};
    return distribution_root(family->mean_curve, &at, start);
}

static double slope_at(const Family *family, const Units *units, double log_size, double *mean) {
    *mean = best_mean(family, units, exp(log_size), *mean);
    return family->by_size(units, exp(log_size), *mean);
}

// Peak between two log sizes, the slope being positive at the first and not at the second.
static double peak(const Family *family, const Units *units, double low, double high,
                   double *mean) {
    for (int i = 0; i < 60; i++) {
        const double middle = (low + high) / 2;
        if (middle <= low || middle >= high)
            break;
        if (slope_at(family, units, middle, mean) > 0)
            low = middle;
        else
            high = middle;
    }
    return (low + high) / 2;
}

// Best size; +Inf if no finite one does better than none; NaN if a root can't be found.
static double best_size(const Family *family, const Units *units, double start, double *mean) {
    const double first = log(1e-3), last = log(1e8), step = 0.5;
    double best = INFINITY, best_value = family->limit(units), at = start;
    double before = slope_at(family, units, first, &at);
    if (isnan(at))
        return NAN;
    for (int k = 0; first + k * step < last; k++) {
        const double low = first + k * step;
        const double after = slope_at(family, units, low + step, &at);
        double near = at;
        if ((before > 0 && after <= 0) || (k == 0 && before <= 0)) {
            const double top = before > 0 ? peak(family, units, low, low + step, &near) : first;
            if (before <= 0)
                near = best_mean(family, units, exp(first), near);
            const double value = family->value(units, exp(top), near);
            if (value > best_value) {
                best = exp(top);
                best_value = value;
                *mean = near;
            }
        }
        before = after;
    }
    return best;
}

// ---- beta-binomial: size a + b, coordinate logit of the mean ----

static double share_of(double logit) {
    return 1 / (1 + exp(-logit));
}

// Minus the derivative by the logit, which distribution_root wants increasing.
static void beta_mean(double logit, const void *context, double *value, double *slope) {
    const AtSize *at = context;
    const double m = share_of(logit), a = at->size * m, b = at->size * share_of(-logit);
    double first = 0, second = 0;
    for (size_t i = 0; i < at->units->k; i++) {
        const double x = at->units->x[i], rest = at->units->amount[i] - x;
        first += rise(a, x) - rise(b, rest);
        second -= rise_slope(a, x) + rise_slope(b, rest);
    }
    const double chain = at->size * m * share_of(-logit);
    *value = -first * chain;
    *slope = -(second * chain * chain + first * chain * (1 - 2 * m));
}

static double beta_by_size(const Units *units, double size, double logit) {
    const double m = share_of(logit), l = share_of(-logit);
    double sum = 0;
    for (size_t i = 0; i < units->k; i++)
        sum += m * rise(size * m, units->x[i]) +
               l * rise(size * l, units->amount[i] - units->x[i]) - rise(size, units->amount[i]);
    return sum * size;
}

// log of a (a + 1) ... (a + x - 1), less x log(size).
static double rising(double a, double x, double size) {
    double sum = 0;
    if (x < 200)
        for (size_t i = 0; i < (size_t)x; i++)
            sum += log((a + (double)i) / size);
    else
        sum = gsl_sf_lngamma(a + x) - gsl_sf_lngamma(a) - x * log(size);
    return sum;
}

static double beta_value(const Units *units, double size, double logit) {
    double sum = 0;
    for (size_t i = 0; i < units->k; i++) {
        const double x = units->x[i], n = units->amount[i];
        sum += rising(size * share_of(logit), x, size) +
               rising(size * share_of(-logit), n - x, size) - rising(size, n, size);
    }
    return sum;
}

static void totals(const Units *units, double *x, double *amount) {
    *x = *amount = 0;
    for (size_t i = 0; i < units->k; i++) {
        *x += units->x[i];
        *amount += units->amount[i];
    }
}

static double beta_limit(const Units *units) {
    double x, n;
    totals(units, &x, &n);
    return x * log(x / n) + (n - x) * log1p(-x / n);
}

static const Family beta_family = {beta_mean, beta_by_size, beta_value, beta_limit};

// ---- gamma-Poisson: size a, coordinate log of the mean a/b ----

static void gamma_mean(double log_mean, const void *context, double *value, double *slope) {
    const AtSize *at = context;
    const double a = at->size, m = exp(log_mean);
    *value = *slope = 0;
    for (size_t i = 0; i < at->units->k; i++) {
        const double x = at->units->x[i], expected = m * at->units->amount[i];
        *value -= a * (x - expected) / (a + expected);
        *slope += a * (a + x) * expected / ((a + expected) * (a + expected));
    }
}

static double gamma_by_size(const Units *units, double a, double log_mean) {
    double sum = 0;
    for (size_t i = 0; i < units->k; i++) {
        const double x = units->x[i], expected = exp(log_mean) * units->amount[i];
        sum += rise(a, x) - log1p(expected / a) + (expected - x) / (a + expected);
    }
    return sum * a;
}

// Both values are less the sum of log t^x / x!, which no parameter moves.
static double gamma_value(const Units *units, double a, double log_mean) {
    double sum = 0;
    for (size_t i = 0; i < units->k; i++) {
        const double x = units->x[i], expected = exp(log_mean) * units->amount[i];
        sum += rising(a, x, a) + x * log_mean - (a + x) * log1p(expected / a);
    }
    return sum;
}

static double gamma_limit(const Units *units) {
    double x, t;
    totals(units, &x, &t);
    return x * log(x / t) - x;
}

static const Family gamma_family = {gamma_mean, gamma_by_size, gamma_value, gamma_limit};

// ---- priors ----

static size_t with_records(const double *amount, size_t k) {
    size_t count = 0;
    for (size_t i = 0; i < k; i++)
        count += amount[i] > 0;
    return count;
}

static ShrinkagePrior everyone_alike(double mean) {
    return (ShrinkagePrior){INFINITY, INFINITY, mean, true};
}

ShrinkagePrior shrinkage_beta_binomial(const double *x, const double *n, size_t k) {
    const Units units = {x, n, k};
    double events, records, logit = NAN;
    if (with_records(n, k) < 2)
        return none;
    totals(&units, &events, &records);
    if (!(events > 0) || !(events < records))
        return events >= 0 && events <= records ? everyone_alike(events / records) : none;
    const double start = log(events / (records - events));
    const double size = best_size(&beta_family, &units, start, &logit);
    if (isnan(size))
        return none;
    if (isinf(size))
        return everyone_alike(events / records);
    const double m = share_of(logit);
    return (ShrinkagePrior){size * m, size * share_of(-logit), m, false};
}

ShrinkagePrior shrinkage_gamma_poisson(const double *x, const double *t, size_t k) {
    const Units units = {x, t, k};
    double events, exposure, log_mean = NAN;
    if (with_records(t, k) < 2)
        return none;
    totals(&units, &events, &exposure);
    if (!(events > 0))
        return events == 0 ? everyone_alike(0) : none;
    const double size = best_size(&gamma_family, &units, log(events / exposure), &log_mean);
    if (isnan(size))
        return none;
    if (isinf(size))
        return everyone_alike(events / exposure);
    return (ShrinkagePrior){size, size / exp(log_mean), exp(log_mean), false};
}

ShrinkagePrior shrinkage_beta_moments(double mean, double sd) {
    const double size = mean * (1 - mean) / (sd * sd) - 1;
    if (!(mean > 0 && mean < 1) || !(size > 0))
        return none;
    return (ShrinkagePrior){mean * size, (1 - mean) * size, mean, false};
}

// ---- posteriors ----

static StatsInterval alone(double mean, double *own) {
    if (own)
        *own = isnan(mean) ? NAN : 0;
    return (StatsInterval){mean, mean, mean};
}

StatsInterval shrinkage_beta_posterior(const ShrinkagePrior *prior, double x, double n,
                                       double confidence, double *own) {
    if (prior->pooled || isnan(prior->a) || !(x >= 0 && x <= n))
        return alone(x >= 0 && x <= n ? prior->mean : NAN, own);
    const double a = prior->a + x, b = prior->b + n - x, tail = (1 - confidence) / 2;
    if (own)
        *own = n / (a + b);
    return (StatsInterval){a / (a + b), distribution_beta_quantile(tail, a, b),
                           distribution_beta_quantile(1 - tail, a, b)};
}

StatsInterval shrinkage_gamma_posterior(const ShrinkagePrior *prior, double x, double t,
                                        double confidence, double *own) {
    if (prior->pooled || isnan(prior->a) || !(x >= 0 && t >= 0))
        return alone(x >= 0 && t >= 0 ? prior->mean : NAN, own);
    const double a = prior->a + x, b = prior->b + t, tail = (1 - confidence) / 2;
    if (own)
        *own = t / b;
    return (StatsInterval){a / b, distribution_gamma_quantile(tail, a) / b,
                           distribution_gamma_quantile(1 - tail, a) / b};
}
