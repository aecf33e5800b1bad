// SPDX-License-Identifier: GPL-3.0-or-later
// Which unknowns of linear equations have one value only.
#ifndef CROSSWARD_STATS_DETERMINED_H
#define CROSSWARD_STATS_DETERMINED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct {
    uint32_t unknown;
    int32_t times; // its coefficient, not 0
} DeterminedTerm;

// Equation k has the terms [first[k], first[k + 1]), each unknown at most once; what it equals does
// not matter. determined[i] becomes true if unknown i has the same value in every solution there
// is over the rational numbers.
//
// An unknown is determined if every solution of the homogeneous equations is 0 there. One solution
// is drawn modulo the prime 2^31 - 1, free unknowns at random from a fixed seed: one that is
// determined comes out as 0 always, one that isn't as 0 with a chance of about 1 in 2^31 (Schwartz
// 1980, Zippel 1979), and then is told to be determined. Elimination takes next the unknown that
// stands in fewest equations (Markowitz 1957). False if memory ran out.
bool determined_find(size_t unknowns, size_t equations, const size_t *first,
                     const DeterminedTerm *term, bool *determined);

#endif
