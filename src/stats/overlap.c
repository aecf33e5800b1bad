// SPDX-License-Identifier: GPL-3.0-or-later
// Sweep over absences, and the block-linearised ratio.
#include "stats/overlap.h"

#include "stats/distribution.h"
#include "stats/order.h"

#include <math.h>
#include <stdlib.h>

// Adds the minutes of [from, to) to the weeks they lie in; *w is the week of from or an earlier
// one.
static void add_span(int64_t from, int64_t to, size_t weeks, const int64_t *week, double *sum,
                     size_t *w) {
    while (*w < weeks && week[*w + 1] <= from)
        (*w)++;
    for (size_t i = *w; i < weeks && week[i] < to; i++) {
        const int64_t a = from > week[i] ? from : week[i], b = to < week[i + 1] ? to : week[i + 1];
        if (b > a)
            sum[i] += (double)(b - a);
    }
}

bool overlap_weeks(size_t n, const int64_t *start, const int64_t *end, size_t weeks,
                   const int64_t *week, double *one, double *two) {
    int64_t *starts = malloc((2 * n + 1) * sizeof *starts), *ends = starts + n;
    if (!starts)
        return false;
    for (size_t i = 0; i < n; i++) {
        if (end[i] < start[i]) {
            free(starts);
            return false;
        }
        starts[i] = start[i];
        ends[i] = end[i];
    }
    order_settle(starts, n);
    order_settle(ends, n);
    size_t w1 = 0, w2 = 0;
    int64_t before = 0;
    for (size_t s = 0, e = 0; e < n;) { // half-open: at one time ends come before starts
        const bool starting = s < n && starts[s] < ends[e];
        const size_t away = s > e ? s - e : 0; // until then
        const int64_t at = starting ? starts[s] : ends[e];
        if (away >= 1)
            add_span(before, at, weeks, week, one, &w1);
        if (away >= 2)
            add_span(before, at, weeks, week, two, &w2);
        before = at;
        if (starting)
            s++;
        else
            e++;
    }
    free(starts);
    return true;
}

// Population variance of the n - l + 1 means of l values running of r = two - estimate * one.
static double block_variance(size_t n, size_t l, const double *one, const double *two,
                             double estimate) {
    const size_t blocks = n - l + 1;
    double mean = 0, square = 0;
    for (int pass = 0; pass < 2; pass++)
        for (size_t b = 0; b < blocks; b++) {
            double m = 0;
            for (size_t i = b; i < b + l; i++)
                m += two[i] - estimate * one[i];
            m /= (double)l;
            if (pass == 0)
                mean += m / (double)blocks;
            else
                square += (m - mean) * (m - mean) / (double)blocks;
        }
    return square;
}

StatsInterval overlap_ratio(size_t n, const double *one, const double *two, double confidence) {
    StatsInterval r = {NAN, NAN, NAN};
    double x = 0, y = 0;
    for (size_t i = 0; i < n; i++)
        x += one[i], y += two[i];
    if (!(x > 0))
        return r;
    r.estimate = y / x;
    if (n < 10 || y == 0)
        return r;
    size_t l = (size_t)round(cbrt((double)n));
    l = l < 1 ? 1 : l;
    const double variance = (double)n * (double)l * block_variance(n, l, one, two, r.estimate);
    if (!(variance > 0))
        return r;
    const double half = distribution_normal_critical(confidence) * sqrt(variance) / x;
    r.lower = fmax(0, r.estimate - half);
    r.upper = fmin(1, r.estimate + half);
    return r;
}
