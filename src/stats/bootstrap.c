// SPDX-License-Identifier: GPL-3.0-or-later
// Closed forms of the block bootstrap of a mean. Sums are taken from the first value on, so that a
// constant series has a variance of exactly 0.
#include "stats/bootstrap.h"

#include <math.h>

static double block(const double *values, size_t n, size_t start, size_t length) {
    double sum = 0;
    for (size_t j = 0; j < length; j++)
        sum += values[(start + j) % n] - values[0];
    return sum / (double)length;
}

BootstrapMean bootstrap_block_mean(const double *values, size_t n, size_t length, bool circular) {
    if (n == 0 || length == 0)
        return (BootstrapMean){NAN, NAN};
    length = length > n ? n : length;
    const size_t blocks = circular ? n : n - length + 1;
    double mean = 0, squares = 0;
    for (size_t i = 0; i < blocks; i++)
        mean += block(values, n, i, length) / (double)blocks;
    for (size_t i = 0; i < blocks; i++) {
        const double d = block(values, n, i, length) - mean;
        squares += d * d / (double)blocks;
    }
    return (BootstrapMean){values[0] + mean,
                           length == n ? 0 : squares * (double)length / (double)n};
}
