// SPDX-License-Identifier: GPL-3.0-or-later
// Two Poisson rates: conditional exact, mid-P and Wald limits of their ratio; tests.
#include "stats/ratio.h"
#include "stats/distribution.h"
#include "stats/proportion.h"
#include "stats/rate.h"

#include <math.h>
#include <stddef.h>

static const StatsInterval undefined = {NAN, NAN, NAN};

static bool is_comparable(double x1, double t1, double x2, double t2) {
    return rate_possible(x1, t1) && rate_possible(x2, t2) && t1 > 0 && t2 > 0;
}

static double estimate(double x1, double t1, double x2, double t2) {
    if (x2 == 0)
        return x1 == 0 ? NAN : INFINITY;
    return x1 / t1 / (x2 / t2);
}

typedef StatsInterval (*ShareMethod)(double x, double n, double confidence);

// The upper odds come from the lower limit of x2's share, so that nothing cancels near 1.
static StatsInterval conditional(double x1, double t1, double x2, double t2, double confidence,
                                 ShareMethod method) {
    if (!is_comparable(x1, t1, x2, t2) || !(confidence > 0 && confidence < 1))
        return undefined;
    double n = x1 + x2, scale = t2 / t1;
    if (n == 0)
        return (StatsInterval){NAN, 0, INFINITY};
    double low = method(x1, n, confidence).lower, high = method(x2, n, confidence).lower;
    double upper = high == 0 ? INFINITY : (1 - high) / high * scale;
    return (StatsInterval){estimate(x1, t1, x2, t2), low / (1 - low) * scale, upper};
}

StatsInterval ratio_exact(double x1, double t1, double x2, double t2, double confidence) {
    return conditional(x1, t1, x2, t2, confidence, proportion_clopper_pearson);
}

StatsInterval ratio_midp(double x1, double t1, double x2, double t2, double confidence) {
    return conditional(x1, t1, x2, t2, confidence, proportion_midp);
}

StatsInterval ratio_wald(double x1, double t1, double x2, double t2, double confidence) {
    if (!is_comparable(x1, t1, x2, t2) || !(confidence > 0 && confidence < 1))
        return undefined;
    double ratio = estimate(x1, t1, x2, t2);
    if (x1 == 0 || x2 == 0)
        return (StatsInterval){ratio, NAN, NAN};
    double factor = exp(distribution_normal_critical(confidence) * sqrt(1 / x1 + 1 / x2));
    return (StatsInterval){ratio, ratio / factor, ratio * factor};
}

// ---- tests ----

typedef double (*ShareTest)(double x, double n, double p0);

static double conditional_test(double x1, double t1, double x2, double t2, double null,
                               ShareTest test) {
    if (!is_comparable(x1, t1, x2, t2) || !(null > 0) || isinf(null))
        return NAN;
    return x1 + x2 == 0 ? 1 : test(x1, x1 + x2, null * t1 / (null * t1 + t2));
}

static double midp_greater(double x, double n, double p0) {
    return distribution_binomial_upper(x + 1, n, p0) + distribution_binomial_point(x, n, p0) / 2;
}

double ratio_test(double x1, double t1, double x2, double t2, double null) {
    return conditional_test(x1, t1, x2, t2, null, proportion_test);
}

double ratio_test_greater(double x1, double t1, double x2, double t2, double null) {
    return conditional_test(x1, t1, x2, t2, null, proportion_test_greater);
}

double ratio_test_less(double x1, double t1, double x2, double t2, double null) {
    return conditional_test(x1, t1, x2, t2, null, proportion_test_less);
}

double ratio_test_midp(double x1, double t1, double x2, double t2, double null) {
    return conditional_test(x1, t1, x2, t2, null, proportion_test_midp);
}

double ratio_test_midp_greater(double x1, double t1, double x2, double t2, double null) {
    return conditional_test(x1, t1, x2, t2, null, midp_greater);
}

double ratio_score_z(double x1, double t1, double x2, double t2) {
    if (!is_comparable(x1, t1, x2, t2) || x1 + x2 == 0)
        return NAN;
    return (x1 * t2 - x2 * t1) / sqrt((x1 + x2) * t1 * t2);
}

StatsInterval ratio_difference(double x1, double t1, double x2, double t2, double confidence,
                               double *se) {
    bool possible = is_comparable(x1, t1, x2, t2);
    double error = possible ? sqrt(x1 / t1 / t1 + x2 / t2 / t2) : NAN;
    if (se != NULL)
        *se = error;
    if (!possible || !(confidence > 0 && confidence < 1))
        return undefined;
    double d = x1 / t1 - x2 / t2, half = distribution_normal_critical(confidence) * error;
    return (StatsInterval){d, d - half, d + half};
}
