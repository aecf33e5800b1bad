// SPDX-License-Identifier: GPL-3.0-or-later
// How many of a set of intervals run at once: time at each level, the peak, the longest stretch.
#ifndef CROSSWARD_STATS_CONCURRENT_H
#define CROSSWARD_STATS_CONCURRENT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { CONCURRENT_LEVELS = 4 };

typedef struct {
    double at_least[CONCURRENT_LEVELS]; // [k - 1]: time with k or more at once
    double longest[CONCURRENT_LEVELS];  // [k - 1]: longest stretch with k or more without a break
    unsigned peak;                      // largest number at once
    double sum;                         // of all lengths; the mean number is sum / time watched
} Concurrent;

// Sweeps n half-open intervals [start, end) in any order; unit of time as given. One that ends
// where another starts does not overlap it, but the stretch goes on; one of no length counts for
// nothing. With weeks > 0, weekly[k - 1][w] (weeks values each) is increased by the time with k or
// more in week w, [week[w], week[w + 1]). False (nothing changed) if one ends before it starts or
// memory runs out. Source: definition.
bool concurrent_sweep(size_t n, const int64_t *start, const int64_t *end, Concurrent *result,
                      size_t weeks, const int64_t *week, double *const *weekly);

// When `level` (1 or more) or more of them run at once: stretches [from, to) in order of time (two
// may touch); from and to have room for n. Returns how many, 0 also if one ends before it starts or
// memory runs out.
size_t concurrent_stretches(size_t n, const int64_t *start, const int64_t *end, unsigned level,
                            int64_t *from, int64_t *to);

#endif
