// SPDX-License-Identifier: GPL-3.0-or-later
// Distributions. Tails are solved for on the logit or log scale, where the logarithm of a tail is
// concave, so that Newton's method converges from any start; the bracket is there for rounding.
#include "stats/distribution.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_gamma.h>
#include <gsl/gsl_sf_log.h>
#include <math.h>

static bool is_probability(double p) {
    return p >= 0 && p <= 1;
}

double distribution_normal_quantile(double p) {
    if (!is_probability(p))
        return NAN;
    if (p == 0)
        return -INFINITY;
    return p == 1 ? INFINITY : gsl_cdf_ugaussian_Pinv(p);
}

double distribution_normal_critical(double confidence) {
    if (!(confidence > 0 && confidence < 1))
        return NAN;
    return gsl_cdf_ugaussian_Qinv((1 - confidence) / 2);
}

double distribution_normal_lower(double z) {
    return isnan(z) ? NAN : gsl_cdf_ugaussian_P(z);
}

double distribution_normal_two_sided(double z) {
    return isnan(z) ? NAN : erfc(fabs(z) / M_SQRT2);
}

double distribution_chisq_upper(double x, double df) {
    return distribution_gamma_upper(x / 2, df / 2);
}

double distribution_chisq_quantile(double p, double df) {
    return 2 * distribution_gamma_quantile(p, df / 2);
}

// ---- the root of an increasing curve ----

double distribution_root(DistributionCurve curve, const void *context, double start) {
    double low = -INFINITY, high = INFINITY, u = start, reach = 1, last = INFINITY;
    for (int count = 0; count < 200; count++) {
        double value, slope;
        curve(u, context, &value, &slope);
        if (isnan(value))
            return NAN;
        if (value == 0)
            return u;
        if (value < 0)
            low = u;
        else
            high = u;
        double next = u - value / slope;
        bool newton = next > low && next < high && isfinite(next);
        if (!newton) {
            if (isinf(low))
                next = high - (reach *= 2);
            else if (isinf(high))
                next = low + (reach *= 2);
            else
                next = low + (high - low) / 2;
        }
        // a Newton step is in proportion to the square of the one before: two tell the next
        double step = fabs(next - u), to_come = step;
        if (newton && isfinite(last))
            to_come *= pow(step / last, 2);
        if (step <= 1e-14 * (1 + fabs(u)) || to_come <= 1e-16 * (1 + fabs(u)))
            return next;
        last = newton ? step : INFINITY;
        u = next;
    }
    return NAN;
}

// ---- beta ----

// x log(x/m) + m - x, without cancellation when x is near m (Loader's deviance bd0).
static double deviance(double x, double m) {
    if (!(m > 0 && m < INFINITY))
        return INFINITY;
    if (m < x / 2 || m > 2 * x)
        return x * log(x / m) + m - x;
    return -x * gsl_sf_log_1plusx_mx((m - x) / x);
}

// The part of x^a y^b / B(a,b) that does not depend on x: sqrt(ab / (2 pi (a+b))) and the
// Stirling corrections.
static double beta_scale(double a, double b) {
    return sqrt(a / (a + b) * b / (2 * M_PI)) * gsl_sf_gammastar(a + b) /
           (gsl_sf_gammastar(a) * gsl_sf_gammastar(b));
}

// x^a y^b / B(a,b), with y = 1 - x.
static double beta_front(double a, double b, double x, double y, double scale) {
    double n = a + b;
    return scale * exp(-deviance(a, n * x) - deviance(b, n * y));
}

// Continued fraction of DLMF 8.17.22 for x below (a+1)/(a+b+2).
static double beta_fraction(double a, double b, double x) {
    const double tiny = 1e-300;
    double c = 1, d = 1 - (a + b) * x / (a + 1);
    d = 1 / (fabs(d) < tiny ? tiny : d);
    double h = d;
    for (int m = 1; m <= 1000000; m++) {
        double m2 = 2.0 * m;
        double even = m * (b - m) * x / ((a + m2 - 1) * (a + m2));
        double odd = -(a + m) * (a + b + m) * x / ((a + m2) * (a + m2 + 1));
        d = 1 + even * d;
        c = 1 + even / c;
        d = 1 / (fabs(d) < tiny ? tiny : d);
        c = fabs(c) < tiny ? tiny : c;
        h *= d * c;
        d = 1 + odd * d;
        c = 1 + odd / c;
        d = 1 / (fabs(d) < tiny ? tiny : d);
        c = fabs(c) < tiny ? tiny : c;
        h *= d * c;
        if (fabs(d * c - 1) < 1e-15)
            return h;
    }
    return NAN;
}

// P(X <= x), given x and y = 1 - x both to full accuracy; `front` may be wanted by the caller.
static double beta_tail(double a, double b, double x, double y, double front) {
    if (x < (a + 1) / (a + b + 2))
        return front * beta_fraction(a, b, x) / a;
    return 1 - front * beta_fraction(b, a, y) / b;
}

static bool beta_arguments(double x, double a, double b) {
    return is_probability(x) && a > 0 && b > 0 && isfinite(a) && isfinite(b);
}

double distribution_beta_lower(double x, double a, double b) {
    if (!beta_arguments(x, a, b))
        return NAN;
    if (x == 0 || x == 1)
        return x;
    return beta_tail(a, b, x, 1 - x, beta_front(a, b, x, 1 - x, beta_scale(a, b)));
}

double distribution_beta_upper(double x, double a, double b) {
    if (!beta_arguments(x, a, b))
        return NAN;
    if (x == 0 || x == 1)
        return 1 - x;
    return beta_tail(b, a, 1 - x, x, beta_front(a, b, x, 1 - x, beta_scale(a, b)));
}

typedef struct {
    double a, b, scale, log_p;
} BetaTarget;

static void beta_curve(double u, const void *context, double *value, double *slope) {
    const BetaTarget *t = context;
    double x = 1 / (1 + exp(-u)), y = 1 / (1 + exp(u));
    double front = beta_front(t->a, t->b, x, y, t->scale);
    double tail = beta_tail(t->a, t->b, x, y, front);
    *value = log(tail) - t->log_p;
    *slope = front / tail;
}

// Start on the logit scale: Abramowitz & Stegun 26.5.22, or the leading term of the lower tail.
static double beta_start(double p, double a, double b) {
    if (a <= 1 || b <= 1)
        return fmax(-700, fmin(700, (log(p) + log(a) + gsl_sf_lnbeta(a, b)) / a));
    double z = gsl_cdf_ugaussian_Qinv(p), lambda = (z * z - 3) / 6;
    double h = 2 / (1 / (2 * a - 1) + 1 / (2 * b - 1));
    double root = h + lambda > 0 ? sqrt(h + lambda) : 0;
    double w =
        z * root / h - (1 / (2 * b - 1) - 1 / (2 * a - 1)) * (lambda + 5.0 / 6 - 2 / (3 * h));
    return log(a / b) - 2 * w;
}

double distribution_beta_quantile(double p, double a, double b) {
    if (!beta_arguments(p, a, b))
        return NAN;
    if (p == 0 || p == 1)
        return p;
    bool upper = p > 0.5;
    double tail = upper ? 1 - p : p;
    BetaTarget t = {upper ? b : a, upper ? a : b, beta_scale(a, b), log(tail)};
    double u = distribution_root(beta_curve, &t, beta_start(tail, t.a, t.b));
    return 1 / (1 + exp(upper ? u : -u));
}

// ---- gamma ----

// x^a e^-x / Gamma(a).
static double gamma_front(double a, double x) {
    return sqrt(a / (2 * M_PI)) / gsl_sf_gammastar(a) * exp(-deviance(a, x));
}

// Sum of x^k / ((a+1)...(a+k)), DLMF 8.11.4, for x below a + 1.
static double gamma_series(double a, double x) {
    double term = 1, sum = 1;
    for (int k = 1; k <= 10000000 && term > sum * 1e-17; k++)
        sum += term *= x / (a + k);
    return sum;
}

// Continued fraction DLMF 8.9.2 (even part, modified Lentz), for x above a + 1.
static double gamma_fraction(double a, double x) {
    double b = x + 1 - a, c = INFINITY, d = 1 / b, h = d;
    for (int k = 1; k <= 10000000; k++) {
        double numerator = -k * (k - a);
        b += 2;
        d = 1 / (b + numerator * d);
        c = b + numerator / c;
        h *= c * d;
        if (fabs(c * d - 1) < 1e-15)
            return h;
    }
    return NAN;
}

static double gamma_tail(double a, double x, bool upper, double front) {
    bool series = x < a + 1;
    double part = series ? front / a * gamma_series(a, x) : front * gamma_fraction(a, x);
    return series == upper ? 1 - part : part;
}

static double gamma_probability(double x, double shape, bool upper) {
    if (!(shape > 0) || isinf(shape) || isnan(x))
        return NAN;
    if (x <= 0 || isinf(x))
        return (x > 0) == upper ? 0 : 1;
    return gamma_tail(shape, x, upper, gamma_front(shape, x));
}

double distribution_gamma_lower(double x, double shape) {
    return gamma_probability(x, shape, false);
}

double distribution_gamma_upper(double x, double shape) {
    return gamma_probability(x, shape, true);
}

typedef struct {
    double shape, log_p;
    bool upper;
} GammaTarget;

// The curve over u = log x. The upper tail falls with x, so its sign is turned.
static void gamma_curve(double u, const void *context, double *value, double *slope) {
    const GammaTarget *t = context;
    double x = exp(u), front = gamma_front(t->shape, x);
    double tail = gamma_tail(t->shape, x, t->upper, front);
    *value = t->upper ? t->log_p - log(tail) : log(tail) - t->log_p;
    *slope = front / tail;
}

double distribution_gamma_quantile(double p, double shape) {
    if (!is_probability(p) || !(shape > 0) || isinf(shape))
        return NAN;
    if (p == 0 || p == 1)
        return p == 0 ? 0 : INFINITY;
    GammaTarget t = {shape, log(p > 0.5 ? 1 - p : p), p > 0.5};
    // Wilson & Hilferty (1931); the leading term of the lower tail where that cube is negative
    double z = gsl_cdf_ugaussian_Pinv(p);
    double cube = 1 - 1 / (9 * shape) + z / (3 * sqrt(shape));
    double start = cube > 0.2 ? log(shape) + 3 * log(cube)
                              : fmax(-700, (log(p) + gsl_sf_lngamma(shape + 1)) / shape);
    return exp(distribution_root(gamma_curve, &t, start));
}

// ---- binomial ----

static bool binomial_arguments(double n, double p) {
    return n >= 0 && isfinite(n) && is_probability(p);
}

double distribution_binomial_point(double x, double n, double p) {
    if (!binomial_arguments(n, p) || isnan(x))
        return NAN;
    if (x < 0 || x > n)
        return 0;
    if (p == 0 || p == 1)
        return x == (p == 0 ? 0 : n) ? 1 : 0;
    if (x == 0 || x == n)
        return x == 0 ? exp(n * log1p(-p)) : exp(n * log(p));
    return beta_front(x, n - x, p, 1 - p, beta_scale(x, n - x)) * n / (x * (n - x));
}

double distribution_binomial_lower(double x, double n, double p) {
    if (!binomial_arguments(n, p) || isnan(x))
        return NAN;
    if (x < 0)
        return 0;
    return x >= n ? 1 : distribution_beta_upper(p, x + 1, n - x);
}

double distribution_binomial_upper(double x, double n, double p) {
    if (!binomial_arguments(n, p) || isnan(x))
        return NAN;
    if (x <= 0)
        return 1;
    return x > n ? 0 : distribution_beta_lower(p, x, n - x + 1);
}

typedef double (*LowerTail)(double k, double n, double parameter);

// p less the slack, 64 units of rounding, that is R's way of finding k when P(X <= k) is p itself.
static double with_slack(double p) {
    return p * (1 - 64 * 2.220446049250313e-16);
}

// Smallest whole k in 0..largest with P(X <= k) >= p, by doubling steps from a guess and then
// halving.
static double discrete_quantile(LowerTail tail, double n, double parameter, double p, double guess,
                                double spread, double largest) {
    double slack = with_slack(p);
    double low = fmax(-1, fmin(guess, largest) - spread), high = fmin(guess + spread, largest);
    while (low >= 0 && tail(low, n, parameter) >= slack)
        low = fmax(-1, low - (spread *= 2));
    while (high < largest && tail(high, n, parameter) < slack)
        high = fmin(largest, high + (spread *= 2));
    while (high - low > 1) {
        double middle = floor((low + high) / 2);
        if (tail(middle, n, parameter) >= slack)
            high = middle;
        else
            low = middle;
    }
    return high;
}

// The binomial quantile a few steps from a guess, each tail found from the last one and its point.
// NaN if that is too far, or a tail too near p to tell so.
static double walked_quantile(double p, double n, double prob, double guess) {
    const double slack = with_slack(p), near = 1e-9 * slack, odds = (1 - prob) / prob;
    double k = fmin(guess, n), tail = distribution_binomial_lower(k, n, prob),
           point = distribution_binomial_point(k, n, prob);
    const bool up = tail < slack;
    for (int step = 0; step < 8 && fabs(tail - slack) > near; step++) {
        if (up && tail > slack)
            return k;
        if (up) {
            point *= (n - k) / ((k + 1) * odds);
            tail += point;
            k++;
        } else if (tail < slack) {
            return k + 1;
        } else {
            if (k == 0)
                return 0;
            tail -= point;
            point *= k / (n - k + 1) * odds;
            k--;
        }
    }
    return NAN;
}

double distribution_binomial_quantile(double p, double n, double prob) {
    if (!binomial_arguments(n, prob) || !is_probability(p) || n != floor(n))
        return NAN;
    if (p == 0 || prob == 0 || n == 0)
        return 0;
    if (p == 1 || prob == 1)
        return n;
    double sd = sqrt(n * prob * (1 - prob)), z = gsl_cdf_ugaussian_Pinv(p);
    double guess = fmax(0, floor(n * prob + z * sd + (z * z - 1) * (1 - 2 * prob) / 6 + 0.5));
    double walked = walked_quantile(p, n, prob, guess);
    return isnan(walked) ? discrete_quantile(distribution_binomial_lower, n, prob, p, guess,
                                             1 + floor(sd / 64), n)
                         : walked;
}

// log of P(X > x) + P(X = x)/2 over the logit of p, for beta parameters x + 1 and n - x. P(X = x)
// and the slope come from the same power: d P(X > x)/dp = P(X = x)(n - x)/(1 - p).
static void midp_curve(double u, const void *context, double *value, double *slope) {
    const BetaTarget *t = context;
    double p = 1 / (1 + exp(-u)), q = 1 / (1 + exp(u));
    double front = beta_front(t->a, t->b, p, q, t->scale), point = front / (p * t->b);
    double tail = beta_tail(t->a, t->b, p, q, front) + point / 2;
    *value = log(tail) - t->log_p;
    *slope = point * ((t->a - 1) * q + t->b * p) / (2 * tail);
}

double distribution_binomial_midp(double x, double n, double tail, double start) {
    if (!(x >= 0 && x < n && isfinite(n) && tail > 0 && tail < 1 && start > 0 && start < 1))
        return NAN;
    BetaTarget t = {x + 1, n - x, beta_scale(x + 1, n - x), log(tail)};
    return 1 / (1 + exp(-distribution_root(midp_curve, &t, log(start / (1 - start)))));
}

// ---- Poisson ----

double distribution_poisson_point(double x, double mean) {
    if (!(mean >= 0) || isnan(x))
        return NAN;
    if (x < 0)
        return 0;
    if (mean == 0 || x == 0)
        return x == 0 ? exp(-mean) : 0;
    return exp(-deviance(x, mean)) / (sqrt(2 * M_PI * x) * gsl_sf_gammastar(x));
}

double distribution_poisson_lower(double x, double mean) {
    if (!(mean >= 0) || isnan(x))
        return NAN;
    if (x < 0)
        return 0;
    return mean == 0 ? 1 : distribution_gamma_upper(mean, floor(x) + 1);
}

double distribution_poisson_upper(double x, double mean) {
    if (!(mean >= 0) || isnan(x))
        return NAN;
    if (x <= 0)
        return 1;
    return mean == 0 ? 0 : distribution_gamma_lower(mean, ceil(x));
}

static double poisson_tail(double k, double unused, double mean) {
    (void)unused;
    return distribution_poisson_lower(k, mean);
}

double distribution_poisson_quantile(double p, double mean) {
    if (!(mean >= 0) || isinf(mean) || !is_probability(p))
        return NAN;
    if (p == 0 || mean == 0)
        return 0;
    if (p == 1)
        return INFINITY;
    double sd = sqrt(mean), z = gsl_cdf_ugaussian_Pinv(p);
    double guess = fmax(0, floor(mean + z * sd + (z * z - 1) / 6 + 0.5));
    return discrete_quantile(poisson_tail, 0, mean, p, guess, 1 + floor(sd / 64), INFINITY);
}
