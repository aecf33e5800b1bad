// SPDX-License-Identifier: GPL-3.0-or-later
// Block bootstrap of the mean of a series whose neighbours resemble each other, in closed form: no
// random numbers are drawn.
#ifndef CROSSWARD_STATS_BOOTSTRAP_H
#define CROSSWARD_STATS_BOOTSTRAP_H

#include <stdbool.h>
#include <stddef.h>

typedef struct {
    double mean;     // expected value of the resampled mean, in the unit of the values
    double variance; // its variance
} BootstrapMean;

// values: n numbers in order of time; blocks of `length` values running, resampled n/length times.
// circular false: blocks begin at the first n - length + 1 values (moving blocks; Kunsch 1989, Ann
// Stat 17:1217-1241); true: at each of the n, the series closed to a ring (Politis & Romano 1992).
// mean: the mean of all blocks; variance: length/n times their population variance. length 1 is
// the ordinary bootstrap. Lengths of n or more leave one block, hence variance 0: that says
// nothing; take n/length of 5 or more. n or length 0: NaN.
BootstrapMean bootstrap_block_mean(const double *values, size_t n, size_t length, bool circular);

#endif
