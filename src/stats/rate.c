// SPDX-License-Identifier: GPL-3.0-or-later
// One Poisson rate: exact, mid-P, approximate and gamma limits, exact tests.
#include "stats/rate.h"
#include "stats/distribution.h"

#include <math.h>

static const StatsInterval undefined = {NAN, NAN, NAN};

bool rate_possible(double x, double exposure) {
    return x >= 0 && exposure >= 0 && isfinite(x) && isfinite(exposure) && (exposure > 0 || x == 0);
}

static bool is_estimable(double x, double exposure, double confidence) {
    return rate_possible(x, exposure) && exposure > 0 && confidence > 0 && confidence < 1;
}

StatsInterval rate_garwood(double x, double exposure, double confidence) {
    if (!is_estimable(x, exposure, confidence))
        return undefined;
    double tail = (1 - confidence) / 2;
    double lower = x == 0 ? 0 : distribution_gamma_quantile(tail, x);
    double upper = distribution_gamma_quantile(1 - tail, x + 1);
    return (StatsInterval){x / exposure, lower / exposure, upper / exposure};
}

StatsInterval rate_byar(double x, double exposure, double confidence) {
    if (!is_estimable(x, exposure, confidence))
        return undefined;
    double z = distribution_normal_critical(confidence), next = x + 1;
    double below = 1 - 1 / (9 * x) - z / (3 * sqrt(x));
    double above = 1 - 1 / (9 * next) + z / (3 * sqrt(next));
    double lower = x == 0 ? 0 : fmax(0, x * below * below * below);
    return (StatsInterval){x / exposure, lower / exposure, next * above * above * above / exposure};
}

typedef struct {
    double x, log_tail;
    bool upper;
} MidpTarget;

// log of the mid-P tail over the log of the mean; the tail that falls with the mean is turned.
static void midp_curve(double u, const void *context, double *value, double *slope) {
    const MidpTarget *t = context;
    double mean = exp(u), point = distribution_poisson_point(t->x, mean);
    double tail = point / 2 + (t->upper ? distribution_poisson_lower(t->x - 1, mean)
                                        : distribution_poisson_upper(t->x + 1, mean));
    *value = t->upper ? t->log_tail - log(tail) : log(tail) - t->log_tail;
    *slope = point * (t->x + mean) / (2 * tail);
}

static double midp_limit(double x, double confidence, bool upper) {
    MidpTarget target = {x, log((1 - confidence) / 2), upper};
    StatsInterval start = rate_byar(x, 1, confidence);
    double guess = upper ? start.upper : fmax(start.lower, x * 1e-3);
    return exp(distribution_root(midp_curve, &target, log(guess)));
}

StatsInterval rate_midp(double x, double exposure, double confidence) {
    if (!is_estimable(x, exposure, confidence))
        return undefined;
    double lower = x == 0 ? 0 : midp_limit(x, confidence, false);
    double upper = x == 0 ? -log(1 - confidence) : midp_limit(x, confidence, true);
    return (StatsInterval){x / exposure, lower / exposure, upper / exposure};
}

StatsInterval rate_fay_feuer(double y, double v, double w, double exposure, double confidence) {
    if (!is_estimable(y, exposure, confidence) || !(v >= 0) || !(w >= 0) || isinf(v) || isinf(w))
        return undefined;
    double tail = (1 - confidence) / 2, lower = 0, upper = NAN;
    if (y > 0)
        lower = v / y * distribution_gamma_quantile(tail, y * y / v);
    double mean = y + w, variance = v + w * w;
    if (variance > 0)
        upper = variance / mean * distribution_gamma_quantile(1 - tail, mean * mean / variance);
    return (StatsInterval){y / exposure, lower / exposure, upper / exposure};
}

// ---- tests ----

static bool is_testable(double x, double expected) {
    return x >= 0 && expected >= 0 && isfinite(x) && isfinite(expected);
}

double rate_test(double x, double expected) {
    if (!is_testable(x, expected))
        return NAN;
    return fmin(1, 2 * fmin(distribution_poisson_lower(x, expected),
                            distribution_poisson_upper(x, expected)));
}

double rate_test_midp(double x, double expected) {
    if (!is_testable(x, expected))
        return NAN;
    double smaller = fmin(distribution_poisson_lower(x - 1, expected),
                          distribution_poisson_upper(x + 1, expected));
    return fmin(1, 2 * smaller + distribution_poisson_point(x, expected));
}

// The first whole number from `from` upwards (sign 1) or downwards (-1) that is no likelier than
// limit; -1 if there is none down to 0.
static double first_unlikely(double from, double sign, double mean, double limit) {
    double low = 0, high = 1;
    while (from + sign * high >= 0 && distribution_poisson_point(from + sign * high, mean) > limit)
        high *= 2;
    while (low < high) {
        double middle = floor((low + high) / 2);
        if (distribution_poisson_point(from + sign * middle, mean) > limit)
            low = middle + 1;
        else
            high = middle;
    }
    return from + sign * low;
}

double rate_test_likelihood(double x, double expected) {
    if (!is_testable(x, expected))
        return NAN;
    if (x == expected)
        return 1;
    double limit = distribution_poisson_point(x, expected) * (1 + 1e-7);
    if (x < expected) {
        double far = first_unlikely(ceil(expected), 1, expected, limit);
        return fmin(1, distribution_poisson_lower(x, expected) +
                           distribution_poisson_upper(far, expected));
    }
    double far = first_unlikely(floor(expected), -1, expected, limit);
    return fmin(1, distribution_poisson_upper(x, expected) +
                       distribution_poisson_lower(far, expected));
}
