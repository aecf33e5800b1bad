// SPDX-License-Identifier: GPL-3.0-or-later
// Funnel limits, over-dispersion, and the forward search for the spread between units.
#include "stats/funnel.h"

#include "stats/distribution.h"
#include "stats/pooled.h"

#include <gsl/gsl_math.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double inner_share = 0.8, readmit_p = 0.001, typical_weight = 10, uncertainty = 6;
static const double margin = 4; // over the root of the number of members, of the limit

// ---- one unit, chance alone ----

double funnel_binomial_limit(double centre, double n, double p) {
    if (!(n > 0) || !(centre >= 0 && centre <= 1) || !(p > 0 && p < 1))
        return NAN;
    if (centre == 1)
        return 1;
    const double r = distribution_binomial_quantile(p, n, centre);
    const double a =
        (distribution_binomial_lower(r, n, centre) - p) / distribution_binomial_point(r, n, centre);
    return fmax(0, (r - a) / n);
}

double funnel_poisson_limit(double expected, double p) {
    if (!(expected > 0) || !(p > 0 && p < 1))
        return NAN;
    const double r = distribution_poisson_quantile(p, expected);
    const double a =
        (distribution_poisson_lower(r, expected) - p) / distribution_poisson_point(r, expected);
    return fmax(0, (r - a) / expected);
}

double funnel_binomial_p(double x, double n, double centre) {
    if (!(n > 0))
        return NAN;
    const double lower = distribution_binomial_lower(x, n, centre);
    const double upper = distribution_binomial_upper(x, n, centre);
    return isnan(lower) || isnan(upper) ? NAN : fmin(1, 2 * fmin(lower, upper));
}

double funnel_poisson_p(double x, double expected) {
    const double lower = distribution_poisson_lower(x, expected);
    const double upper = distribution_poisson_upper(x, expected);
    return isnan(lower) || isnan(upper) ? NAN : fmin(1, 2 * fmin(lower, upper));
}

double funnel_z(double value, double centre, double variance) {
    return variance > 0 ? (value - centre) / sqrt(variance) : NAN;
}

// ---- over-dispersion, textbook forms ----

static double squares(size_t n, const double *z, size_t *used) {
    double sum = 0;
    *used = 0;
    for (size_t i = 0; i < n; i++)
        if (!isnan(z[i])) {
            sum += z[i] * z[i];
            (*used)++;
        }
    return sum;
}

double funnel_phi(size_t n, const double *z) {
    size_t used;
    const double sum = squares(n, z, &used);
    return used < 2 ? NAN : sum / (double)used;
}

double funnel_phi_pearson(size_t n, const double *z) {
    size_t used;
    const double sum = squares(n, z, &used);
    return used < 2 ? NAN : sum / (double)(used - 1);
}

static int rising(const void *a, const void *b) {
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

size_t funnel_winsorise(size_t n, const double *z, double share, double *out) {
    double *sorted = malloc((n + 1) * sizeof *sorted);
    if (!sorted)
        return n;
    memcpy(sorted, z, n * sizeof *z);
    qsort(sorted, n, sizeof *sorted, rising);
    const size_t k = (size_t)floor(share * (double)n);
    for (size_t i = 0; i < n; i++)
        out[i] = n > 2 * k ? fmin(fmax(z[i], sorted[k]), sorted[n - 1 - k]) : z[i];
    free(sorted);
    return k;
}

double funnel_tau2_moment(size_t n, const double *variance, double phi) {
    double w = 0, w2 = 0;
    for (size_t i = 0; i < n; i++) {
        w += 1 / variance[i];
        w2 += 1 / (variance[i] * variance[i]);
    }
    return n < 2 ? NAN : fmax(0, ((double)n * phi - (double)(n - 1)) / (w - w2 / w));
}

// ---- the forward search ----

// Members by value (sums then don't depend on the order in which the units came), and room.
typedef struct {
    size_t m;
    double *value, *variance, *distance; // distance: from the mean, in standard errors
    double *near_value, *near_variance;  // of the members at hand
    double *order;
} Members;

typedef struct {
    double value, variance;
} Member;

static int by_value(const void *a, const void *b) {
    const Member *x = a, *y = b;
    if (x->value != y->value)
        return x->value < y->value ? -1 : 1;
    return (x->variance > y->variance) - (x->variance < y->variance);
}

static void measure(Members *s, double mean, double tau2) {
    for (size_t i = 0; i < s->m; i++)
        s->distance[i] = fabs(s->value[i] - mean) / sqrt(s->variance[i] + tau2);
}

// The h-th smallest distance, h from 1.
static double distance_at(Members *s, size_t h) {
    memcpy(s->order, s->distance, s->m * sizeof *s->order);
    return gsl_stats_select(s->order, 1, s->m, h - 1);
}

static size_t count_within(const Members *s, double limit) {
    size_t n = 0;
    for (size_t i = 0; i < s->m; i++)
        n += s->distance[i] <= limit;
    return n;
}

// Median with weights 1/variance.
static double weighted_median(const Members *s) {
    double all = 0, seen = 0;
    for (size_t i = 0; i < s->m; i++)
        all += 1 / s->variance[i];
    for (size_t i = 0; i + 1 < s->m; i++) {
        seen += 1 / s->variance[i];
        if (seen >= all / 2)
            return s->value[i];
    }
    return s->value[s->m - 1];
}

// Mean square of a standard normal variable among the inner share a.
static double inner_square(double a) {
    if (a >= 1)
        return 1;
    const double q = distribution_normal_quantile((1 + a) / 2);
    return 1 - 2 * q * exp(-q * q / 2) / sqrt(2 * M_PI) / a;
}

// tau^2 of the h nearest members, the furthest of them at a known distance (of several there, the
// first); *mean becomes theirs.
static double inner_tau2(Members *s, size_t h, double furthest, double guess, double *mean) {
    size_t there = h, n = 0;
    for (size_t i = 0; i < s->m; i++)
        there -= s->distance[i] < furthest;
    for (size_t i = 0; i < s->m && n < h; i++) {
        const bool last = s->distance[i] == furthest && there > 0;
        there -= last;
        if (s->distance[i] < furthest || last) {
            s->near_value[n] = s->value[i];
            s->near_variance[n++] = s->variance[i];
        }
    }
    const double target = (double)(h - 1) * inner_square((double)h / (double)s->m);
    return pooled_tau2(h, s->near_value, s->near_variance, target, guess, mean);
}

// tau^2 of those of at least 2 members that belong together; *kept receives how many they are.
// Members that are nearer than the limit by a margin go in together: however tau^2 moves while they
// come in one by one, none of them is where the search stops, and it so takes a handful of steps
// for a network of any size.
static double search(Members *s, size_t *kept) {
    double mean = weighted_median(s), tau2 = 0;
    size_t h = (size_t)ceil(inner_share * (double)s->m);
    h = h < 2 ? 2 : h;
    for (int i = 0; i < 20; i++) {
        const double before = tau2, centre = mean;
        measure(s, mean, tau2);
        tau2 = inner_tau2(s, h, distance_at(s, h), tau2, &mean);
        if (fabs(tau2 - before) <= 1e-9 * tau2 && fabs(mean - centre) <= 1e-9 * fabs(mean))
            break;
    }
    const double furthest = distribution_normal_critical(1 - readmit_p);
    const double surely = furthest * (1 - margin / sqrt((double)s->m));
    while (h < s->m) {
        measure(s, mean, tau2);
        const size_t within = count_within(s, surely);
        h = within > h ? within : h + 1;
        const double last = distance_at(s, h);
        if (last > furthest) {
            h--;
            break;
        }
        tau2 = inner_tau2(s, h, last, tau2, &mean);
    }
    *kept = h;
    return tau2;
}

typedef double (*Estimate)(Members *s, size_t *kept);

static double everybody(Members *s, size_t *kept) {
    double mean;
    *kept = s->m;
    return pooled_tau2(s->m, s->value, s->variance, (double)(s->m - 1), 0, &mean);
}

// Members of the funnel without `judged` and without the flagged (flagged may be NULL).
static void gather(const FunnelUnits *units, long judged, const bool *flagged, Member *member,
                   Members *s) {
    for (size_t i = 0; i < units->n; i++)
        if ((long)i != judged && !(flagged && flagged[i]) && isfinite(units->value[i]) &&
            units->variance[i] > 0)
            member[s->m++] = (Member){units->value[i], units->variance[i]};
    qsort(member, s->m, sizeof *member, by_value);
    for (size_t i = 0; i < s->m; i++) {
        s->value[i] = member[i].value;
        s->variance[i] = member[i].variance;
    }
}

// *freedom is -1 without any unit, 0 with one.
static double estimate(const FunnelUnits *units, long judged, const bool *flagged, Estimate how,
                       double *freedom) {
    *freedom = -1;
    const size_t n = units->n;
    Member *member = malloc((n + 1) * sizeof *member);
    double *space = malloc((6 * n + 1) * sizeof *space);
    double tau2 = NAN;
    if (member && space) {
        Members s = {
            0, space, space + n, space + 2 * n, space + 3 * n, space + 4 * n, space + 5 * n};
        gather(units, judged, flagged, member, &s);
        size_t kept = s.m;
        if (s.m >= 2)
            tau2 = how(&s, &kept);
        *freedom = (double)kept - 1;
    }
    free(member);
    free(space);
    return tau2;
}

double funnel_own_tau2(const FunnelUnits *units, long judged, double *freedom) {
    double d;
    const double tau2 = estimate(units, judged, NULL, search, &d);
    if (freedom)
        *freedom = d;
    return tau2;
}

double funnel_typical(size_t n, const double *relative) {
    double *known = malloc((n + 1) * sizeof *known), median = NAN;
    size_t k = 0;
    for (size_t i = 0; known && i < n; i++)
        if (!isnan(relative[i]))
            known[k++] = relative[i];
    if (k > 0) {
        qsort(known, k, sizeof *known, rising);
        median = (known[(k - 1) / 2] + known[k / 2]) / 2;
    }
    free(known);
    return median;
}

static double moderate(double own, double freedom, double typical, double record) {
    if (freedom < 0)
        return NAN;
    const double usual = isnan(typical) ? own : typical * record;
    const double known = freedom > 0 ? freedom * own : 0;
    const double weight = freedom + typical_weight;
    return (1 + uncertainty / weight) * (known + typical_weight * usual) / weight;
}

double funnel_tau2(const FunnelUnits *units, long judged, double typical) {
    double freedom;
    const double own = estimate(units, judged, NULL, search, &freedom);
    return moderate(own, freedom, typical, units->record);
}

double funnel_band_tau2(const FunnelUnits *units, const bool *flagged, double typical) {
    double freedom;
    const double own = estimate(units, FUNNEL_NOBODY, flagged, everybody, &freedom);
    return moderate(own, freedom, typical, units->record);
}

// ---- judging ----

double funnel_p(double exact, double value, double centre, double variance, double tau2) {
    if (isnan(exact) || isnan(tau2) || !(variance + tau2 > 0))
        return exact;
    return fmax(exact, distribution_normal_two_sided((value - centre) / sqrt(variance + tau2)));
}

StatsInterval funnel_limits(StatsInterval exact, double centre, double variance, double tau2,
                            double confidence, double highest) {
    StatsInterval wide = {centre, exact.lower, exact.upper};
    if (isnan(exact.lower) || isnan(exact.upper) || isnan(tau2) || !(variance > 0))
        return wide;
    const double half = distribution_normal_critical(confidence) * sqrt(variance + tau2);
    wide.lower = fmax(0, fmin(exact.lower, centre - half));
    wide.upper = fmin(highest, fmax(exact.upper, centre + half));
    return wide;
}

StatsInterval funnel_binomial_limits(double n, double centre, double tau2, double confidence) {
    const double tail = (1 - confidence) / 2;
    const StatsInterval exact = {centre, funnel_binomial_limit(centre, n, tail),
                                 funnel_binomial_limit(centre, n, 1 - tail)};
    return funnel_limits(exact, centre, centre * (1 - centre) / n, tau2, confidence, 1);
}
