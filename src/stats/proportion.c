// SPDX-License-Identifier: GPL-3.0-or-later
// One proportion: score, exact and mid-P intervals, exact tests, bounds under missing outcomes.
#include "stats/proportion.h"
#include "stats/distribution.h"

#include <math.h>
#include <stddef.h>

static const StatsInterval undefined = {NAN, NAN, NAN};

bool proportion_possible(double x, double n) {
    return x >= 0 && x <= n && isfinite(n);
}

static bool is_estimable(double x, double n, double confidence) {
    return proportion_possible(x, n) && n > 0 && confidence > 0 && confidence < 1;
}

StatsInterval proportion_wilson(double x, double n, double confidence) {
    if (!is_estimable(x, n, confidence))
        return undefined;
    double z = distribution_normal_critical(confidence), z2 = z * z;
    double p = x / n, centre = 2 * x + z2, half = z * sqrt(z2 + 4 * x * (1 - p));
    // the lower limit through the product of the roots, x^2/(n(n+z^2)): no cancellation
    double upper = (centre + half) / (2 * (n + z2));
    double lower = x == 0 ? 0 : 2 * x * p / (centre + half);
    return (StatsInterval){p, lower, x == n ? 1 : upper};
}

StatsInterval proportion_wilson_corrected(double x, double n, double confidence) {
    if (!is_estimable(x, n, confidence))
        return undefined;
    double z = distribution_normal_critical(confidence), z2 = z * z;
    double p = x / n, q = 1 - p, below = z2 - 2 - 1 / n + 4 * p * (n * q + 1);
    double above = z2 + 2 - 1 / n + 4 * p * (n * q - 1), denominator = 2 * (n + z2);
    double lower = (2 * x + z2 - 1 - z * sqrt(fmax(0, below))) / denominator;
    double upper = (2 * x + z2 + 1 + z * sqrt(fmax(0, above))) / denominator;
    return (StatsInterval){p, x == 0 ? 0 : fmax(0, lower), x == n ? 1 : fmin(1, upper)};
}

StatsInterval proportion_clopper_pearson(double x, double n, double confidence) {
    if (!is_estimable(x, n, confidence))
        return undefined;
    double tail = (1 - confidence) / 2;
    double lower = x == 0 ? 0 : distribution_beta_quantile(tail, x, n - x + 1);
    double upper = x == n ? 1 : 1 - distribution_beta_quantile(tail, n - x, x + 1);
    return (StatsInterval){x / n, lower, upper};
}

StatsInterval proportion_wald(double x, double n, double confidence) {
    if (!is_estimable(x, n, confidence))
        return undefined;
    double p = x / n, half = distribution_normal_critical(confidence) * sqrt(p * (1 - p) / n);
    return (StatsInterval){p, p - half, p + half};
}

// Lower mid-P limit, 0 < x <= n; started from the Wilson limit.
static double midp_lower(double x, double n, double confidence) {
    double tail = (1 - confidence) / 2;
    if (x == n) // half of p^n is the tail
        return exp(log(2 * tail) / n);
    return distribution_binomial_midp(x, n, tail, proportion_wilson(x, n, confidence).lower);
}

StatsInterval proportion_midp(double x, double n, double confidence) {
    if (!is_estimable(x, n, confidence))
        return undefined;
    double lower = x == 0 ? 0 : midp_lower(x, n, confidence);
    double upper = x == n ? 1 : 1 - midp_lower(n - x, n, confidence);
    return (StatsInterval){x / n, lower, upper};
}

// ---- tests ----

static bool is_testable(double x, double n, double p0) {
    return proportion_possible(x, n) && n > 0 && p0 >= 0 && p0 <= 1;
}

double proportion_test_greater(double x, double n, double p0) {
    return is_testable(x, n, p0) ? distribution_binomial_upper(x, n, p0) : NAN;
}

double proportion_test_less(double x, double n, double p0) {
    return is_testable(x, n, p0) ? distribution_binomial_lower(x, n, p0) : NAN;
}

// Number of outcomes in the run from `from` to the end `to` (a step of +1 or -1 away from the
// mode, where the probability falls) that are likelier than `limit`.
static double count_likelier(double from, double to, double n, double p0, double limit) {
    double span = fabs(to - from) + 1, sign = to >= from ? 1 : -1, low = 0, high = span;
    while (low < high) {
        double middle = floor((low + high) / 2);
        if (distribution_binomial_point(from + sign * middle, n, p0) > limit)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

double proportion_test(double x, double n, double p0) {
    if (!is_testable(x, n, p0))
        return NAN;
    if (p0 == 0 || p0 == 1)
        return x == p0 * n ? 1 : 0;
    double limit = distribution_binomial_point(x, n, p0) * (1 + 1e-7), mean = n * p0;
    if (x == mean)
        return 1;
    if (x < mean) {
        double from = ceil(mean), skip = count_likelier(from, n, n, p0, limit);
        return fmin(1, distribution_binomial_lower(x, n, p0) +
                           distribution_binomial_upper(from + skip, n, p0));
    }
    double from = floor(mean), skip = count_likelier(from, 0, n, p0, limit);
    return fmin(1, distribution_binomial_upper(x, n, p0) +
                       distribution_binomial_lower(from - skip, n, p0));
}

double proportion_test_midp(double x, double n, double p0) {
    if (!is_testable(x, n, p0))
        return NAN;
    double smaller =
        fmin(distribution_binomial_lower(x - 1, n, p0), distribution_binomial_upper(x + 1, n, p0));
    return fmin(1, 2 * smaller + distribution_binomial_point(x, n, p0));
}

// ---- missing outcomes ----

StatsInterval proportion_bounds(double x, double known, double missing) {
    double n = known + missing;
    if (!proportion_possible(x, known) || !(missing >= 0) || !(n > 0) || isinf(missing))
        return undefined;
    return (StatsInterval){known > 0 ? x / known : NAN, x / n, (x + missing) / n};
}

typedef struct {
    double shift, confidence;
} CriticalTarget;

static void critical_curve(double c, const void *context, double *value, double *slope) {
    const CriticalTarget *t = context;
    *value =
        distribution_normal_lower(c + t->shift) - distribution_normal_lower(-c) - t->confidence;
    *slope = (exp(-(c + t->shift) * (c + t->shift) / 2) + exp(-c * c / 2)) / sqrt(2 * M_PI);
}

StatsInterval proportion_imbens_manski(double x, double known, double missing, double confidence,
                                       double *critical) {
    StatsInterval b = proportion_bounds(x, known, missing);
    double n = known + missing, c = NAN;
    if (!isnan(b.lower) && confidence > 0 && confidence < 1) {
        double low = sqrt(b.lower * (1 - b.lower) / n), high = sqrt(b.upper * (1 - b.upper) / n);
        double widest = fmax(low, high), width = b.upper - b.lower;
        CriticalTarget t = {widest > 0 ? width / widest : width > 0 ? INFINITY : 0, confidence};
        c = distribution_root(critical_curve, &t, distribution_normal_critical(confidence));
        b.lower = fmax(0, b.lower - c * low);
        b.upper = fmin(1, b.upper + c * high);
    } else {
        b = undefined;
    }
    if (critical != NULL)
        *critical = c;
    return b;
}

StatsInterval proportion_bounds_wilson(double x, double known, double missing, double confidence) {
    StatsInterval b = proportion_bounds(x, known, missing);
    double n = known + missing;
    b.lower = proportion_wilson(x, n, confidence).lower;
    b.upper = proportion_wilson(x + missing, n, confidence).upper;
    return b;
}
