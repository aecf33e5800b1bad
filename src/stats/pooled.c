// SPDX-License-Identifier: GPL-3.0-or-later
// Weighted means with a variance between units.
#include "stats/pooled.h"

#include <math.h>
#include <stdbool.h>

typedef struct {
    double weights, mean, squares, slope; // slope: minus the derivative of squares by tau2
} Weighted;

static Weighted weigh(size_t n, const double *value, const double *variance, double tau2) {
    Weighted s = {0, 0, 0, 0};
    for (size_t i = 0; i < n; i++) {
        const double w = 1 / (variance[i] + tau2);
        s.weights += w;
        s.mean += w * value[i];
    }
    s.mean /= s.weights;
    for (size_t i = 0; i < n; i++) {
        const double w = 1 / (variance[i] + tau2), d = value[i] - s.mean;
        s.squares += w * d * d;
        s.slope += w * w * d * d;
    }
    return s;
}

double pooled_tau2(size_t n, const double *value, const double *variance, double target,
                   double from, double *mean) {
    double tau2 = from;
    Weighted s = weigh(n, value, variance, tau2);
    // the squares fall and are convex in tau2: Newton's steps from the left never pass the root,
    // and the first one from the right goes to the left of it
    if (from > 0 && s.squares < target) {
        tau2 = fmax(0, from + (s.squares - target) / s.slope);
        s = weigh(n, value, variance, tau2);
    }
    for (int i = 0; i < 200 && s.squares > target; i++) {
        const double step = (s.squares - target) / s.slope;
        tau2 += step;
        s = weigh(n, value, variance, tau2);
        if (!(step > 1e-15 * tau2))
            break;
    }
    if (mean)
        *mean = s.mean;
    return tau2;
}

static bool usable(size_t n, const double *value, const double *variance) {
    for (size_t i = 0; i < n; i++)
        if (!isfinite(value[i]) || !isfinite(variance[i]) || variance[i] <= 0)
            return false;
    return n > 0;
}

static PooledMean pool(size_t n, const double *value, const double *variance, bool moment) {
    if (!usable(n, value, variance))
        return (PooledMean){NAN, NAN, NAN, NAN, NAN};
    const double df = (double)n - 1;
    const Weighted fixed = weigh(n, value, variance, 0);
    double tau2 = 0, squared_weights = 0;
    for (size_t i = 0; i < n; i++)
        squared_weights += 1 / (variance[i] * variance[i]);
    if (n > 1 && moment)
        tau2 = fmax(0, (fixed.squares - df) / (fixed.weights - squared_weights / fixed.weights));
    else if (n > 1)
        tau2 = pooled_tau2(n, value, variance, df, 0, NULL);
    const Weighted s = weigh(n, value, variance, tau2);
    const double i2 = fixed.squares > 0 ? fmax(0, (fixed.squares - df) / fixed.squares) : 0;
    return (PooledMean){s.mean, sqrt(1 / s.weights), tau2, fixed.squares, i2};
}

PooledMean pooled_dersimonian_laird(size_t n, const double *value, const double *variance) {
    return pool(n, value, variance, true);
}

PooledMean pooled_paule_mandel(size_t n, const double *value, const double *variance) {
    return pool(n, value, variance, false);
}
