// SPDX-License-Identifier: GPL-3.0-or-later
// The Poisson-binomial distribution, exactly.
#include "stats/poisson_binomial.h"

#include <math.h>
#include <string.h>

// Probabilities below this are cut off at the ends: far below what any p-value needs, and it keeps
// the work to the part of the range where the distribution is.
static const double negligible = 1e-290;

bool poisson_binomial_points(const double *p, size_t n, double *points) {
    for (size_t i = 0; i < n; i++)
        if (!(p[i] >= 0 && p[i] <= 1))
            return false;
    memset(points, 0, (n + 1) * sizeof *points);
    points[0] = 1;
    size_t low = 0, high = 0;
    for (size_t i = 0; i < n; i++) {
        double q = 1 - p[i];
        high++;
        for (size_t k = high; k > low; k--)
            points[k] = points[k] * q + points[k - 1] * p[i];
        points[low] *= q;
        while (low < high && points[low] < negligible)
            points[low++] = 0;
        while (high > low && points[high] < negligible)
            points[high--] = 0;
    }
    return true;
}

// Summed from the far end, small to large.
double poisson_binomial_lower(const double *points, size_t n, size_t k) {
    double sum = 0;
    for (size_t i = 0; i <= k && i <= n; i++)
        sum += points[i];
    return fmin(1, sum);
}

double poisson_binomial_upper(const double *points, size_t n, size_t k) {
    double sum = 0;
    for (size_t i = n + 1; i > k; i--)
        sum += points[i - 1];
    return fmin(1, sum);
}

double poisson_binomial_midp(const double *points, size_t n, size_t k) {
    if (k > n)
        return 0;
    double below = k == 0 ? 0 : poisson_binomial_lower(points, n, k - 1);
    double above = poisson_binomial_upper(points, n, k + 1);
    return fmin(1, 2 * fmin(below, above) + points[k]);
}

size_t poisson_binomial_quantile(const double *points, size_t n, double q) {
    double sum = points[0];
    size_t k = 0;
    while (k < n && sum < q * (1 - 1e-14))
        sum += points[++k];
    return k;
}
