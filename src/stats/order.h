// SPDX-License-Identifier: GPL-3.0-or-later
// Sorting that keeps to its n log n in the processor's caches too.
#ifndef CROSSWARD_STATS_ORDER_H
#define CROSSWARD_STATS_ORDER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// values: n numbers; NaN comes last. Both merge from runs of two upwards, n log n at worst, and
// need as much memory again while they run.

// Numbers of the values in ascending order, equal ones by number, to be freed; NULL if memory runs
// out.
size_t *order_ascending(const double *values, size_t n);

// Sorts in place; false, with the values as they were, if memory runs out.
bool order_sort(double *values, size_t n);

// Sorts whole numbers digit by digit, in time in proportion to n; false, as above, without memory
// for as many again.
bool order_sort_whole(uint32_t *values, size_t n);

// Sorts numbers of which few are far from their place, as times in a log: each is moved down to
// its own, until that has taken 16 steps a number; then digit by digit, or where numbers are
// farther apart than 32 bits by n log n.
void order_settle(int64_t *values, size_t n);

#endif
