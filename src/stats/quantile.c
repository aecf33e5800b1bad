// SPDX-License-Identifier: GPL-3.0-or-later
// Sample quantiles and the ranks of the order statistics that bound them.
#include "stats/quantile.h"
#include "stats/distribution.h"
#include "stats/order.h"

#include <float.h>
#include <gsl/gsl_sort.h>
#include <math.h>
#include <stdbool.h>

void quantile_sort(double *values, size_t n) {
    if (!order_sort(values, n) && n > 1)
        gsl_sort(values, 1, n); // slower, but in place
}

static bool is_defined(size_t n, double p) {
    return n > 0 && p >= 0 && p <= 1;
}

// np, rounded to the whole number that it misses only by rounding (0.9 * 10 is meant to be 9).
static double position(size_t n, double p) {
    double np = (double)n * p, whole = round(np);
    return fabs(np - whole) <= 4 * DBL_EPSILON * fmax(1, np) ? whole : np;
}

static Runs list(const double *sorted, size_t n) {
    return (Runs){n, sorted, NULL};
}

double quantile_of_runs(Runs r, double p) {
    const size_t n = (size_t)runs_size(r);
    if (!is_defined(n, p))
        return NAN;
    double np = position(n, p), below = floor(np);
    if (np > below)
        return runs_at(r, below + 1);
    return (runs_at(r, below) + runs_at(r, below + 1)) / 2;
}

double quantile_hf2(const double *sorted, size_t n, double p) {
    return quantile_of_runs(list(sorted, n), p);
}

double quantile_hf1(const double *sorted, size_t n, double p) {
    return is_defined(n, p) ? runs_at(list(sorted, n), ceil(position(n, p))) : NAN;
}

double quantile_linear(const double *sorted, size_t n, double p, unsigned definition) {
    const double plus[] = {0, 0.5, p, 1 - p, (p + 1) / 3, p / 4 + 0.375}; // m of their table 1
    if (!is_defined(n, p) || definition < 4 || definition > 9)
        return NAN;
    const Runs r = list(sorted, n);
    double rank = (double)n * p + plus[definition - 4], whole = round(rank);
    if (fabs(rank - whole) <= 4 * DBL_EPSILON * fmax(1, rank))
        rank = whole;
    double below = floor(rank), low = runs_at(r, below);
    return low + (rank - below) * (runs_at(r, below + 1) - low);
}

void quantile_ranks(size_t n, double p, double confidence, size_t *lower, size_t *upper) {
    *lower = *upper = 0;
    if (!is_defined(n, p) || !(confidence > 0 && confidence < 1))
        return;
    double tail = (1 - confidence) / 2;
    double low = distribution_binomial_quantile(tail, (double)n, p);
    double high = distribution_binomial_quantile(1 - tail, (double)n, p) + 1;
    *lower = low >= 1 ? (size_t)low : 0;
    *upper = high <= (double)n ? (size_t)high : 0;
}

double quantile_coverage(size_t n, double p, size_t lower, size_t upper) {
    if (!is_defined(n, p) || lower > n || upper > n)
        return NAN;
    double below = lower == 0 ? 0 : distribution_binomial_lower((double)lower - 1, (double)n, p);
    double above = upper == 0 ? 0 : distribution_binomial_upper((double)upper, (double)n, p);
    return 1 - below - above;
}

StatsInterval quantile_interval_of_runs(Runs r, double p, double confidence) {
    size_t lower, upper;
    quantile_ranks((size_t)runs_size(r), p, confidence, &lower, &upper);
    return (StatsInterval){quantile_of_runs(r, p), lower > 0 ? runs_at(r, (double)lower) : NAN,
                           upper > 0 ? runs_at(r, (double)upper) : NAN};
}

QuantileRanks quantile_all_ranks(size_t n, double p, double confidence) {
    const double np = position(n, p), below = floor(np);
    QuantileRanks ranks = {(size_t)fmax(1, np > below ? below + 1 : below),
                           (size_t)fmin((double)n, below + 1), 0, 0};
    quantile_ranks(n, p, confidence, &ranks.lower, &ranks.upper);
    return ranks;
}

StatsInterval quantile_interval(const double *sorted, size_t n, double p, double confidence) {
    return quantile_interval_of_runs(list(sorted, n), p, confidence);
}
