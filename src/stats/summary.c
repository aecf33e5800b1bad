// SPDX-License-Identifier: GPL-3.0-or-later
// Two passes: the deviations are taken from the mean, never from sums of squares.
#include "stats/summary.h"

#include <math.h>

static double sum_of_deviations(const double *values, size_t n, double from) {
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += values[i] - from;
    return sum;
}

double summary_mean(const double *values, size_t n) {
    if (n == 0)
        return NAN;
    double first = values[0] + sum_of_deviations(values, n, values[0]) / (double)n;
    return first + sum_of_deviations(values, n, first) / (double)n;
}

static double sum_of_squares(const double *values, size_t n, double mean) {
    double squares = 0;
    for (size_t i = 0; i < n; i++)
        squares += (values[i] - mean) * (values[i] - mean);
    double rest = sum_of_deviations(values, n, mean);
    return squares - rest * rest / (double)n;
}

double summary_sd(const double *values, size_t n) {
    if (n < 2)
        return NAN;
    return sqrt(fmax(0, sum_of_squares(values, n, summary_mean(values, n))) / ((double)n - 1));
}

double summary_autocorrelation(const double *values, size_t n) {
    if (n < 2)
        return NAN;
    double mean = summary_mean(values, n), squares = sum_of_squares(values, n, mean), products = 0;
    for (size_t i = 0; i + 1 < n; i++)
        products += (values[i] - mean) * (values[i + 1] - mean);
    return squares > 0 ? products / squares : NAN;
}
