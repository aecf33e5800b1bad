// SPDX-License-Identifier: GPL-3.0-or-later
// Limits of control charts.
#include "stats/control.h"

#include "stats/distribution.h"
#include "stats/summary.h"

#include <math.h>
#include <stdlib.h>

static const double d2 = 1.128, wide = 3, tail = 0.00135, power = 0.2777;
static const StatsInterval undefined = {NAN, NAN, NAN};

// ---- shares and rates ----

double control_centre(const double *x, const double *n, size_t k) {
    double events = 0, records = 0;
    for (size_t i = 0; i < k; i++)
        if (n[i] > 0) {
            events += x[i];
            records += n[i];
        }
    return records > 0 ? events / records : NAN;
}

StatsInterval control_p(double centre, double n, double sigma_z) {
    if (!(n > 0) || !(centre >= 0 && centre <= 1))
        return undefined;
    const double half = wide * sigma_z * sqrt(centre * (1 - centre) / n);
    return (StatsInterval){centre, fmax(0, centre - half), fmin(1, centre + half)};
}

StatsInterval control_u(double centre, double exposure, double sigma_z) {
    if (!(exposure > 0) || !(centre >= 0))
        return undefined;
    const double half = wide * sigma_z * sqrt(centre / exposure);
    return (StatsInterval){centre, fmax(0, centre - half), centre + half};
}

// variance: that of one record or one unit of exposure.
static double sigma_z(const double *x, const double *n, size_t k, double centre, double variance) {
    double sum = 0, before = NAN;
    size_t ranges = 0;
    for (size_t i = 0; i < k; i++) {
        const double z =
            n[i] > 0 && variance > 0 ? (x[i] / n[i] - centre) / sqrt(variance / n[i]) : NAN;
        if (!isnan(z) && !isnan(before)) {
            sum += fabs(z - before);
            ranges++;
        }
        before = z;
    }
    return ranges > 0 ? sum / (double)ranges / d2 : NAN;
}

double control_sigma_z_p(const double *x, const double *n, size_t k, double centre) {
    return sigma_z(x, n, k, centre, centre * (1 - centre));
}

double control_sigma_z_u(const double *x, const double *exposure, size_t k, double centre) {
    return sigma_z(x, exposure, k, centre, centre);
}

StatsInterval control_p_exact(double centre, double n) {
    if (!(n > 0) || !(centre >= 0 && centre <= 1))
        return undefined;
    return (StatsInterval){centre, distribution_binomial_quantile(tail, n, centre) / n,
                           distribution_binomial_quantile(1 - tail, n, centre) / n};
}

StatsInterval control_u_exact(double centre, double exposure) {
    if (!(exposure > 0) || !(centre >= 0))
        return undefined;
    const double mean = centre * exposure;
    return (StatsInterval){centre, distribution_poisson_quantile(tail, mean) / exposure,
                           distribution_poisson_quantile(1 - tail, mean) / exposure};
}

double control_clustered_p(double x, double expected, double cluster) {
    if (!(x >= 0) || !(expected > 0) || !(cluster >= 1))
        return NAN;
    const double mean = expected / cluster, count = x / cluster;
    const double upper = count > 0 ? distribution_gamma_lower(mean, count) : 1;
    const double lower = distribution_gamma_upper(mean, count + 1);
    return fmin(1, 2 * fmin(upper, lower));
}

typedef struct {
    double mean;
    bool upper;
} Tail;

// Rising in the count: how far the tail has come past 0.00135.
static double past(double count, const Tail *side) {
    if (side->upper)
        return tail - (count > 0 ? distribution_gamma_lower(side->mean, count) : 1);
    return distribution_gamma_upper(side->mean, count + 1) - tail;
}

static double bound(double mean, bool upper) {
    const Tail side = {mean, upper};
    if (past(0, &side) >= 0)
        return 0;
    double low = 0, high = mean + 1;
    while (past(high, &side) < 0)
        high *= 2;
    for (int i = 0; i < 100 && high - low > 1e-14 * high; i++) {
        const double middle = (low + high) / 2;
        if (past(middle, &side) < 0)
            low = middle;
        else
            high = middle;
    }
    return high;
}

StatsInterval control_u_clustered(double centre, double exposure, double cluster) {
    if (!(exposure > 0) || !(centre >= 0) || !(cluster >= 1))
        return undefined;
    if (centre == 0)
        return (StatsInterval){0, 0, 0};
    const double mean = centre * exposure / cluster, scale = cluster / exposure;
    return (StatsInterval){centre, bound(mean, false) * scale, bound(mean, true) * scale};
}

// ---- single values ----

double control_mean_range(const double *values, size_t n) {
    double sum = 0;
    size_t ranges = 0;
    for (size_t i = 1; i < n; i++)
        if (!isnan(values[i]) && !isnan(values[i - 1])) {
            sum += fabs(values[i] - values[i - 1]);
            ranges++;
        }
    return ranges > 0 ? sum / (double)ranges : NAN;
}

StatsInterval control_xmr(const double *values, size_t n) {
    double sum = 0;
    size_t known = 0;
    for (size_t i = 0; i < n; i++)
        if (!isnan(values[i])) {
            sum += values[i];
            known++;
        }
    const double mean = known > 0 ? sum / (double)known : NAN;
    const double half = wide * control_mean_range(values, n) / d2;
    return (StatsInterval){mean, mean - half, mean + half};
}

bool control_beyond(double value, StatsInterval limits) {
    return value < limits.lower || value > limits.upper;
}

// ---- rare events ----

StatsInterval control_g(const double *gaps, size_t n) {
    if (n < 1)
        return undefined;
    const double mean = summary_mean(gaps, n);
    return (StatsInterval){mean, 0, mean + wide * sqrt(mean * (mean + 1))};
}

double control_g_quantile(double mean, double p) {
    if (!(mean >= 0) || !(p >= 0 && p < 1))
        return NAN;
    if (mean == 0)
        return 0;
    // P(G <= g) = 1 - q^(g+1), q = mean/(mean + 1); the last step guards against rounding
    const double log_q = -log1p(1 / mean);
    double g = fmax(0, ceil(log1p(-p) / log_q) - 1);
    while (g > 0 && -expm1(g * log_q) >= p)
        g--;
    while (-expm1((g + 1) * log_q) < p)
        g++;
    return g;
}

double control_t_transform(double time) {
    return time >= 0 ? pow(time, power) : NAN;
}

double control_t_back(double transformed) {
    return transformed >= 0 ? pow(transformed, 1 / power) : NAN;
}

StatsInterval control_t(const double *times, size_t n) {
    double *transformed = malloc((n + 1) * sizeof *transformed);
    StatsInterval limits = undefined;
    if (transformed) {
        for (size_t i = 0; i < n; i++)
            transformed[i] = control_t_transform(times[i]);
        limits = control_xmr(transformed, n);
        limits.lower = isnan(limits.lower) ? NAN : fmax(0, limits.lower);
    }
    free(transformed);
    return limits;
}
