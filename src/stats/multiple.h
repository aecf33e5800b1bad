// SPDX-License-Identifier: GPL-3.0-or-later
// p-values adjusted for how many were looked at.
#ifndef CROSSWARD_STATS_MULTIPLE_H
#define CROSSWARD_STATS_MULTIPLE_H

#include <stdbool.h>
#include <stddef.h>

// p: n p-values in any order (NaN: not computed, not counted, stays NaN); adjusted: n results in
// the same order, may be p itself. n log n. False, with nothing written, if memory runs out.

// Step-up false-discovery rate; Benjamini & Hochberg 1995, J R Stat Soc B 57:289-300.
bool multiple_benjamini_hochberg(const double *p, size_t n, double *adjusted);

// p up to which one of the tests that are at most `level` after that stays so, all others as they
// are: level times their number over that of all tests. adjusted: n results of the function above.
// 0 if none is at most level.
double multiple_benjamini_hochberg_cut(const double *adjusted, size_t n, double level);

// Step-down family-wise error; Holm 1979, Scand J Stat 6:65-70.
bool multiple_holm(const double *p, size_t n, double *adjusted);

#endif
