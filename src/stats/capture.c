// SPDX-License-Identifier: GPL-3.0-or-later
// Two-list capture-recapture.
#include "stats/capture.h"
#include "stats/distribution.h"

#include <math.h>
#include <stdbool.h>

static const StatsInterval undefined = {NAN, NAN, NAN};

static bool is_estimable(double n1, double n2, double both) {
    return n1 > 0 && n2 > 0 && both >= 0 && both <= fmin(n1, n2) && isfinite(n1 + n2);
}

double capture_chapman(double n1, double n2, double both) {
    return is_estimable(n1, n2, both) ? (n1 + 1) * (n2 + 1) / (both + 1) - 1 : NAN;
}

double capture_lincoln_petersen(double n1, double n2, double both) {
    return is_estimable(n1, n2, both) ? n1 * n2 / both : NAN;
}

double capture_variance(double n1, double n2, double both) {
    if (!is_estimable(n1, n2, both))
        return NAN;
    return (n1 + 1) * (n2 + 1) * (n1 - both) * (n2 - both) / ((both + 1) * (both + 1) * (both + 2));
}

StatsInterval capture_wald(double n1, double n2, double both, double confidence) {
    double n = capture_chapman(n1, n2, both);
    double half = distribution_normal_critical(confidence) * sqrt(capture_variance(n1, n2, both));
    return isnan(half) ? undefined : (StatsInterval){n, n - half, n + half};
}

StatsInterval capture_log_normal(double n1, double n2, double both, double confidence) {
    double n = capture_chapman(n1, n2, both), variance = capture_variance(n1, n2, both);
    double z = distribution_normal_critical(confidence);
    if (isnan(n) || isnan(z))
        return undefined;
    if (variance == 0)
        return (StatsInterval){n, NAN, NAN};
    double seen = n1 + n2 - both, unseen = n - seen;
    double factor = exp(z * sqrt(log1p(variance / (unseen * unseen))));
    return (StatsInterval){n, seen + unseen / factor, seen + unseen * factor};
}

StatsInterval capture_logit(double n1, double n2, double both, double confidence) {
    double n = capture_chapman(n1, n2, both), z = distribution_normal_critical(confidence);
    if (isnan(n) || isnan(z))
        return undefined;
    double only1 = n1 - both + 0.5, only2 = n2 - both + 0.5, joint = both + 0.5;
    double sigma = sqrt(1 / joint + 1 / only1 + 1 / only2 + joint / (only1 * only2));
    double seen = n1 + n2 - both - 0.5, unseen = only1 * only2 / joint;
    double factor = exp(z * sigma);
    return (StatsInterval){n, seen + unseen / factor, seen + unseen * factor};
}

StatsInterval capture_ascertainment(double n1, double n2, double both, double confidence) {
    StatsInterval n = capture_logit(n1, n2, both, confidence);
    if (isnan(n.estimate))
        return undefined;
    double seen = n1 + n2 - both;
    return (StatsInterval){seen / n.estimate, seen / n.upper, fmin(1, seen / n.lower)};
}
