// SPDX-License-Identifier: GPL-3.0-or-later
// Runs about a median, and their exact chances.
#include "stats/run_chart.h"

#include "stats/distribution.h"
#include "stats/quantile.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

RunChart run_chart_about(const double *values, size_t n, double line) {
    RunChart chart = {line, 0, 0, 0};
    int side = 0;
    size_t run = 0;
    for (size_t i = 0; i < n; i++) {
        const int here = (values[i] > line) - (values[i] < line);
        if (here == 0)
            continue;
        chart.useful++;
        chart.crossings += side != 0 && here != side;
        run = here == side ? run + 1 : 1;
        side = here;
        if (run > chart.longest)
            chart.longest = run;
    }
    return chart;
}

RunChart run_chart(const double *values, size_t n) {
    double *sorted = malloc((n + 1) * sizeof *sorted), median = NAN;
    size_t known = 0;
    if (sorted) {
        for (size_t i = 0; i < n; i++)
            if (!isnan(values[i]))
                sorted[known++] = values[i];
        quantile_sort(sorted, known);
        median = quantile_hf2(sorted, known, 0.5);
    }
    free(sorted);
    return run_chart_about(values, n, median);
}

double run_chart_longest_limit(size_t useful) {
    return useful == 0 ? NAN : round(log2((double)useful) + 3);
}

double run_chart_crossings_limit(size_t useful) {
    return useful == 0 ? NAN : distribution_binomial_quantile(0.05, (double)useful - 1, 0.5);
}

double run_chart_signal(const RunChart *chart) {
    if (chart->useful < RUN_CHART_FEWEST)
        return NAN;
    return (double)chart->longest > run_chart_longest_limit(chart->useful) ||
           (double)chart->crossings < run_chart_crossings_limit(chart->useful);
}

// P(longest run <= most and crossings >= fewest) over n tosses. chance[r * n + c]: the chance that
// the toss at hand is the r-th of its run (r from 1) after c crossings, no run too long so far.
static double p_inside(size_t n, size_t most, size_t fewest) {
    if (n < 1)
        return NAN;
    if (most < 1)
        return 0;
    most = most < n ? most : n;
    const size_t cells = (most + 1) * n;
    double *chance = calloc(cells, sizeof *chance), *next = calloc(cells, sizeof *next);
    double inside = chance && next ? 0 : NAN;
    if (chance && next) {
        chance[n] = 1; // the first toss: first of its run, no crossing
        for (size_t toss = 1; toss < n; toss++) {
            memset(next, 0, cells * sizeof *next);
            for (size_t r = 1; r <= most; r++)
                for (size_t c = 0; c < toss; c++) {
                    const double half = chance[r * n + c] / 2;
                    next[n + c + 1] += half;
                    if (r < most)
                        next[(r + 1) * n + c] += half;
                }
            double *swap = chance;
            chance = next;
            next = swap;
        }
        for (size_t r = 1; r <= most; r++)
            for (size_t c = fewest; c < n; c++)
                inside += chance[r * n + c];
    }
    free(chance);
    free(next);
    return inside;
}

// Counted from the end where it is small: a run of L or more first ends at some toss.
double run_chart_p_longest(size_t n, size_t length) {
    if (n < 1)
        return NAN;
    if (length <= 1)
        return 1;
    if (length > n)
        return 0;
    // without[k]: no run of `length` within k tosses; ended: it is complete at toss k for the
    // first time, after a run that began at k - length + 1 and a change of side before it
    double *without = malloc((n + 1) * sizeof *without), p = NAN;
    if (without) {
        const double whole = ldexp(1, -(int)(length - 1));
        p = 0;
        for (size_t k = 0; k <= n; k++) {
            if (k == length)
                p += whole;
            else if (k > length)
                p += without[k - length] * whole / 2;
            without[k] = 1 - p;
        }
    }
    free(without);
    return p;
}

double run_chart_p_crossings(size_t n, size_t crossings) {
    return n < 1 ? NAN : distribution_binomial_lower((double)crossings, (double)n - 1, 0.5);
}

double run_chart_p_either(size_t n, size_t longest, size_t crossings) {
    return 1 - p_inside(n, longest, crossings);
}

double run_chart_p(const RunChart *chart) {
    if (chart->useful < RUN_CHART_FEWEST)
        return NAN;
    const double run = run_chart_p_longest(chart->useful, chart->longest);
    const double few = run_chart_p_crossings(chart->useful, chart->crossings);
    return fmin(1, 2 * fmin(run, few));
}
