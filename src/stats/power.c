// SPDX-License-Identifier: GPL-3.0-or-later
// Exact powers by summing over outcomes, margin by margin.
#include "stats/power.h"

#include "stats/distribution.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#define LEFT_OUT 1e-14   // probability at either end of a range that is not enumerated
#define NEGLIGIBLE 1e-18 // a point so small beside a tail is passed over

typedef struct {
    double low, high;
} Range;

static Range binomial_range(double n, double p) {
    return (Range){distribution_binomial_quantile(LEFT_OUT, n, p),
                   distribution_binomial_quantile(1 - LEFT_OUT, n, p)};
}

// A binomial's points over its range; free them. NULL: no memory.
typedef struct {
    Range range;
    double *point;
} Points;

static Points binomial_points(double n, double p) {
    const Range range = binomial_range(n, p);
    const size_t count = (size_t)(range.high - range.low) + 1;
    double *point = malloc(count * sizeof *point);
    for (size_t i = 0; i < count && point; i++)
        point[i] = distribution_binomial_point(range.low + (double)i, n, p);
    return (Points){range, point};
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

// The next point of the margin over the one at x.
static double ratio_up(double x, double n1, double n2, double m) {
    return (n1 - x) * (m - x) / ((x + 1) * (n2 - m + x + 1));
}

// The point beside the one at x, in the direction of step, over it.
static double ratio(double x, double n1, double n2, double m, int step) {
    return step > 0 ? ratio_up(x, n1, n2, m) : 1 / ratio_up(x - 1, n1, n2, m);
}

// The last x, coming from the support's end (step +1: the lower one, -1: the upper one), whose
// mid-P tail is at most `tail`; points too small to matter are passed over. One before the end if
// there is none.
static double critical_share(double n1, double n2, double m, double tail, int step) {
    const double first = fmax(0, m - n2), last = fmin(n1, m), end = step > 0 ? first : last;
    double x = floor((m + 1) * (n1 + 1) / (n1 + n2 + 2)); // the mode
    double point = exp(log_hypergeometric(x, n1, n2, m)), beyond = 0;
    while (x != end && point > tail * NEGLIGIBLE) {
        point *= ratio(x, n1, n2, m, -step);
        x -= step;
    }
    for (; x >= first && x <= last && beyond + point / 2 <= tail; x += step) {
        beyond += point;
        point *= ratio(x, n1, n2, m, step);
    }
    return x - step;
}

// Probability of a rejected pair with sum m: the first count at most low or at least high.
static double share_of_margin(const Points *one, const Points *two, double m, double low,
                              double high) {
    const double first = fmax(one->range.low, m - two->range.high);
    const double last = fmin(one->range.high, m - two->range.low);
    double sum = 0;
    for (long i = 0; i <= (long)(last - first) && first <= last; i++) {
        const double x = first + (double)i;
        if (x <= low || x >= high)
            sum += one->point[(size_t)(x - one->range.low)] *
                   two->point[(size_t)(m - x - two->range.low)];
    }
    return sum;
}

double power_shares(double n1, double p1, double n2, double p2, double alpha) {
    if (!(n1 >= 1 && n2 >= 1 && n1 == floor(n1) && n2 == floor(n2) && p1 >= 0 && p1 <= 1 &&
          p2 >= 0 && p2 <= 1 && alpha >= POWER_LEAST_ALPHA && alpha < 1) ||
        n1 + n2 > 1e7)
        return NAN;
    Points one = binomial_points(n1, p1), two = binomial_points(n2, p2);
    double power = one.point && two.point ? 0 : NAN;
    const double first = one.range.low + two.range.low, last = one.range.high + two.range.high;
    for (long i = 0; i <= (long)(last - first) && power >= 0; i++) {
        const double m = first + (double)i;
        power += share_of_margin(&one, &two, m, critical_share(n1, n2, m, alpha / 2, 1),
                                 critical_share(n1, n2, m, alpha / 2, -1));
    }
    free(one.point);
    free(two.point);
    return power > 1 ? 1 : power;
}

// P(X <= x), x from -1 on.
static double lower_tail(double x, double n, double p) {
    return x >= 0 ? distribution_binomial_lower(x, n, p) : 0;
}

// The largest x with P(X <= x) at most `tail`, from one below on: it does not fall as n grows.
static double rejected(double x, double n, double p, double tail) {
    while (distribution_binomial_lower(x + 1, n, p) <= tail)
        x++;
    return x;
}

// The first count less its part of the sum, against the spread that this has if both rates are one.
static double rates_normal(double m1, double m2, double share1, double alpha) {
    const double off = (1 - share1) * m1 - share1 * m2;
    const double own = hypot((1 - share1) * sqrt(m1), share1 * sqrt(m2));
    const double limit =
        distribution_normal_critical(1 - alpha) * sqrt((m1 + m2) * share1 * (1 - share1));
    return distribution_normal_lower((off - limit) / own) +
           distribution_normal_lower((-off - limit) / own);
}

double power_rates(double m1, double m2, double share1, double alpha) {
    if (!(m1 > 0 && m2 > 0 && share1 > 0 && share1 < 1 && alpha >= POWER_LEAST_ALPHA && alpha < 1))
        return NAN;
    if (m1 + m2 > 1e7)
        return rates_normal(m1, m2, share1, alpha);
    const Range all = poisson_range(m1 + m2);
    const double p = m1 / (m1 + m2), tail = alpha / 2; // given the sum, the first count is binomial
    double one = distribution_binomial_quantile(tail, all.low, share1) - 1, power = 0;
    double two = distribution_binomial_quantile(tail, all.low, 1 - share1) - 1;
    for (long i = 0; i <= (long)(all.high - all.low); i++) {
        const double s = all.low + (double)i;
        one = rejected(one, s, share1, tail);
        two = rejected(two, s, 1 - share1, tail);
        power += distribution_poisson_point(s, m1 + m2) *
                 (lower_tail(one, s, p) + lower_tail(two, s, 1 - p));
    }
    return fmin(power, 1);
}

double power_ranks(double n1, double n2, double superiority, double alpha) {
    if (!(n1 >= 1 && n2 >= 1 && superiority >= 0 && superiority <= 1 &&
          alpha >= POWER_LEAST_ALPHA && alpha < 1))
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
    if (!(n > 0 && p1 >= 0 && p1 <= 1 && p2 >= 0 && p2 <= 1 && alpha >= POWER_LEAST_ALPHA &&
          alpha < 1))
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
    double low = 1, high = 2; // it does not last at low, unless that is 1
    while (!lasts(power, context, high, wanted)) {
        if (high >= most)
            return NAN;
        low = high;
        high = fmin(2 * high, most);
    }
    while (high - low > 1) {
        const double middle = floor((low + high) / 2);
        if (lasts(power, context, middle, wanted))
            high = middle;
        else
            low = middle;
    }
    return high == 2 && lasts(power, context, 1, wanted) ? 1 : high;
}
