// SPDX-License-Identifier: GPL-3.0-or-later
// Exact powers by summing over outcomes, margin by margin.
#include "stats/power.h"

#include "stats/distribution.h"

#include <math.h>
#include <stdbool.h>

#define LEFT_OUT 1e-14 // probability at either end of a range that is not enumerated

typedef struct {
    double low, high;
} Range;

static Range binomial_range(double n, double p) {
    return (Range){distribution_binomial_quantile(LEFT_OUT, n, p),
                   distribution_binomial_quantile(1 - LEFT_OUT, n, p)};
}

static Range poisson_range(double m) {
    return (Range){distribution_poisson_quantile(LEFT_OUT, m),
                   distribution_poisson_quantile(1 - LEFT_OUT, m)};
}

// log of the probability of x in a hypergeometric margin: m of n1 + n2, x of them among the first
// n1.
static double log_hypergeometric(double x, double n1, double n2, double m) {
    return lgamma(n1 + 1) - lgamma(x + 1) - lgamma(n1 - x + 1) + lgamma(n2 + 1) -
           lgamma(m - x + 1) - lgamma(n2 - m + x + 1) - lgamma(n1 + n2 + 1) + lgamma(m + 1) +
           lgamma(n1 + n2 - m + 1);
}

// The largest x whose lower mid-P tail is at most `tail` (below the support if none): starting from
// the support's end, adding up. step: +1 for the lower tail, -1 for the upper one.
static double critical_share(double n1, double n2, double m, double tail, int step) {
    const double first = fmax(0, m - n2), last = fmin(n1, m);
    double x = step > 0 ? first : last, beyond = 0;
    for (; x >= first && x <= last; x += step) {
        const double point = exp(log_hypergeometric(x, n1, n2, m));
        if (beyond + point / 2 > tail)
            break;
        beyond += point;
    }
    return x - step;
}

// Probability of a rejected pair with sum m, over x in [from, to].
static double share_of_margin(double n1, double p1, double n2, double p2, double m, double low,
                              double high) {
    const Range one = binomial_range(n1, p1);
    double sum = 0;
    const double first = fmax(fmax(0, m - n2), one.low), last = fmin(fmin(n1, m), one.high);
    for (long i = 0; i <= (long)(last - first) && first <= last; i++) {
        const double x = first + (double)i;
        if (x <= low || x >= high)
            sum +=
                distribution_binomial_point(x, n1, p1) * distribution_binomial_point(m - x, n2, p2);
    }
    return sum;
}

double power_shares(double n1, double p1, double n2, double p2, double alpha) {
    if (!(n1 >= 1 && n2 >= 1 && n1 == floor(n1) && n2 == floor(n2) && p1 >= 0 && p1 <= 1 &&
          p2 >= 0 && p2 <= 1 && alpha > 0 && alpha < 1) ||
        n1 + n2 > 1e7)
        return NAN;
    const Range one = binomial_range(n1, p1), two = binomial_range(n2, p2);
    double power = 0;
    const double first = one.low + two.low, last = one.high + two.high;
    for (long i = 0; i <= (long)(last - first); i++) {
        const double m = first + (double)i;
        power += share_of_margin(n1, p1, n2, p2, m, critical_share(n1, n2, m, alpha / 2, 1),
                                 critical_share(n1, n2, m, alpha / 2, -1));
    }
    return fmin(power, 1);
}

double power_rates(double m1, double m2, double share1, double alpha) {
    if (!(m1 > 0 && m2 > 0 && share1 > 0 && share1 < 1 && alpha > 0 && alpha < 1) || m1 + m2 > 1e7)
        return NAN;
    const Range all = poisson_range(m1 + m2);
    const double p = m1 / (m1 + m2); // given the sum, the first count is binomial
    double power = 0;
    for (long i = 0; i <= (long)(all.high - all.low); i++) {
        const double s = all.low + (double)i;
        double low = distribution_binomial_quantile(alpha / 2, s, share1);
        double high = distribution_binomial_quantile(1 - alpha / 2, s, share1);
        // twice the tail is at most alpha: P(X <= low) and P(X >= high) at most alpha/2
        low -= distribution_binomial_lower(low, s, share1) > alpha / 2;
        high += distribution_binomial_upper(high, s, share1) > alpha / 2;
        const double below = low >= 0 ? distribution_binomial_lower(low, s, p) : 0;
        const double above = high <= s ? distribution_binomial_upper(high, s, p) : 0;
        power += distribution_poisson_point(s, m1 + m2) * (below + above);
    }
    return fmin(power, 1);
}

double power_ranks(double n1, double n2, double superiority, double alpha) {
    if (!(n1 >= 1 && n2 >= 1 && superiority >= 0 && superiority <= 1 && alpha > 0 && alpha < 1))
        return NAN;
    const double shift = n1 * n2 * fabs(superiority - 0.5) / sqrt(n1 * n2 * (n1 + n2 + 1) / 12);
    const double z = distribution_normal_critical(1 - alpha);
    return distribution_normal_lower(shift - z) + distribution_normal_lower(-shift - z);
}

double power_superiority(const double *sorted, size_t n, double factor) {
    if (n == 0 || !(factor > 0))
        return NAN;
    double sum = 0;
    size_t below = 0, upto = 0; // values less than, and at most, the one at hand
    for (size_t i = 0; i < n; i++) {
        const double y = sorted[i] * factor;
        while (below < n && sorted[below] < y)
            below++;
        while (upto < n && sorted[upto] <= y)
            upto++;
        sum += (double)below + (double)(upto - below) / 2;
    }
    return sum / (double)n / (double)n;
}

double power_shares_normal(double n, double p1, double p2, double alpha) {
    if (!(n > 0 && p1 >= 0 && p1 <= 1 && p2 >= 0 && p2 <= 1 && alpha > 0 && alpha < 1))
        return NAN;
    const double z = distribution_normal_critical(1 - alpha), mean = p1 + p2;
    const double own = sqrt(p1 * (1 - p1) + p2 * (1 - p2));
    return distribution_normal_lower((sqrt(n) * fabs(p1 - p2) - z * sqrt(mean * (1 - mean / 2))) /
                                     own);
}

static bool lasts(double (*power)(double, const void *), const void *context, double n,
                  double wanted) {
    for (int k = 0; k < 10; k++)
        if (!(power(n + k, context) >= wanted))
            return false;
    return true;
}

double power_size(double (*power)(double n, const void *context), const void *context,
                  double wanted, double most) {
    double high = 2;
    while (high <= most && !lasts(power, context, high, wanted))
        high *= 2;
    if (high > most)
        return NAN;
    double low = high / 2; // not lasting there
    while (high - low > 1) {
        const double middle = floor((low + high) / 2);
        if (lasts(power, context, middle, wanted))
            high = middle;
        else
            low = middle;
    }
    return high == 2 && lasts(power, context, 1, wanted) ? 1 : high;
}
