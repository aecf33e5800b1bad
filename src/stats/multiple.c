// SPDX-License-Identifier: GPL-3.0-or-later
// Benjamini-Hochberg and Holm, in the order in which the p-values came.
#include "stats/multiple.h"
#include "stats/order.h"

#include <math.h>
#include <stdlib.h>

// The positions of the p-values that are there, smallest first, then the others; NULL if memory
// runs out.
static size_t *ordered(const double *p, size_t n, size_t *count) {
    *count = 0;
    for (size_t i = 0; i < n; i++)
        *count += isnan(p[i]) ? 0 : 1;
    return order_ascending(p, n);
}

bool multiple_benjamini_hochberg(const double *p, size_t n, double *adjusted) {
    size_t count, *order = ordered(p, n, &count);
    if (order == NULL)
        return false;
    double least = 1;
    for (size_t rank = count; rank > 0; rank--) {
        size_t i = order[rank - 1];
        least = fmin(least, p[i] * (double)count / (double)rank);
        adjusted[i] = least;
    }
    for (size_t rank = count; rank < n; rank++)
        adjusted[order[rank]] = NAN;
    free(order);
    return true;
}

bool multiple_holm(const double *p, size_t n, double *adjusted) {
    size_t count, *order = ordered(p, n, &count);
    if (order == NULL)
        return false;
    double most = 0;
    for (size_t rank = 0; rank < count; rank++) {
        size_t i = order[rank];
        most = fmax(most, fmin(1, p[i] * (double)(count - rank)));
        adjusted[i] = most;
    }
    for (size_t rank = count; rank < n; rank++)
        adjusted[order[rank]] = NAN;
    free(order);
    return true;
}

double multiple_benjamini_hochberg_cut(const double *adjusted, size_t n, double level) {
    size_t tests = 0, found = 0;
    for (size_t i = 0; i < n; i++) {
        tests += isnan(adjusted[i]) ? 0 : 1;
        found += adjusted[i] <= level ? 1 : 0;
    }
    return found > 0 ? level * (double)found / (double)tests : 0;
}
