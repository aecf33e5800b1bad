// SPDX-License-Identifier: GPL-3.0-or-later
// Observed against expected.
#include "stats/expected.h"

#include "stats/poisson_binomial.h"
#include "stats/rate.h"

#include <math.h>

double expected_events(const double *events, const double *reference, const double *population,
                       size_t k) {
    double sum = 0;
    for (size_t i = 0; i < k; i++) {
        if (population[i] == 0)
            continue;
        if (!(reference[i] > 0))
            return NAN;
        sum += population[i] * events[i] / reference[i];
    }
    return sum;
}

typedef StatsInterval (*Limits)(double x, double exposure, double confidence);

static StatsInterval ratio(double observed, double expected, double confidence, Limits limits) {
    if (expected == 0 && observed > 0 && isfinite(observed))
        return (StatsInterval){INFINITY, NAN, NAN};
    return limits(observed, expected, confidence);
}

StatsInterval expected_ratio(double observed, double expected, double confidence) {
    return ratio(observed, expected, confidence, rate_garwood);
}

StatsInterval expected_ratio_byar(double observed, double expected, double confidence) {
    return ratio(observed, expected, confidence, rate_byar);
}

double expected_p(const double *points, size_t n, size_t observed) {
    const double lower = poisson_binomial_lower(points, n, observed);
    const double upper = poisson_binomial_upper(points, n, observed);
    return fmin(1, 2 * fmin(lower, upper));
}

double expected_limit(const double *points, size_t n, double expected, double p) {
    if (!(expected > 0) || !(p > 0 && p < 1))
        return NAN;
    const size_t r = poisson_binomial_quantile(points, n, p);
    const double beyond = (poisson_binomial_lower(points, n, r) - p) / points[r];
    return fmax(0, ((double)r - beyond) / expected);
}
