// SPDX-License-Identifier: GPL-3.0-or-later
// Runs about a median, and their exact chances.
#include "stats/run_chart.h"

#include "stats/distribution.h"
#include "stats/quantile.h"

#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

RunChart run_chart_about(const double *values, size_t n, double line) {
    RunChart chart = {line, 0, 0, 0, 0};
    int side = 0;
    size_t run = 0;
    for (size_t i = 0; i < n; i++) {
        const int here = (values[i] > line) - (values[i] < line);
        if (here == 0)
            continue;
        chart.useful++;
        chart.above += here > 0;
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

// ---- given how many useful points lie on either side ----

// n choose k as a logarithm; -Inf for k > n.
static double log_choose(size_t n, size_t k) {
    return k > n ? -INFINITY
                 : gsl_sf_lngamma((double)n + 1) - gsl_sf_lngamma((double)k + 1) -
                       gsl_sf_lngamma((double)(n - k) + 1);
}

// P(crossings <= most).
static double given_crossings(size_t above, size_t below, size_t most) {
    if (above == 0 || below == 0)
        return 1;
    const double orders = log_choose(above + below, above);
    double p = 0;
    for (size_t c = 1; c <= most && c < above + below; c++) {
        const size_t k = (c + 1) / 2; // c + 1 runs: k on either side, or k and k + 1
        const double even = log_choose(above - 1, k - 1) + log_choose(below - 1, k - 1),
                     more_above = log_choose(above - 1, k) + log_choose(below - 1, k - 1),
                     more_below = log_choose(above - 1, k - 1) + log_choose(below - 1, k);
        p += c % 2 == 1 ? 2 * exp(even - orders)
                        : exp(more_above - orders) + exp(more_below - orders);
    }
    return fmin(1, p);
}

// The orders of i points above and j below that end on one side, each weighed 2^-(i + j): all, and
// those with a long run.
typedef struct {
    double all, with;
} Orders;

// Adds the orders whose last run, on that side, takes r points from what was there before.
static void add_run(Orders *to, const Orders *before, size_t r, size_t length) {
    const double weight = ldexp(1, -(int)r);
    to->all += weight * before->all;
    to->with += weight * (r >= length ? before->all : before->with);
}

// P(longest run >= length).
static double given_longest(size_t above, size_t below, size_t length) {
    const size_t wide = below + 1;
    Orders(*ending)[2] = calloc((above + 1) * wide, sizeof *ending); // [0]: above, [1]: below
    if (!ending)
        return NAN;
    ending[0][0].all = ending[0][1].all = 1;
    for (size_t i = 0; i <= above; i++)
        for (size_t j = 0; j <= below; j++) {
            Orders *here = ending[i * wide + j];
            for (size_t r = 1; r <= i; r++)
                add_run(&here[0], &ending[(i - r) * wide + j][1], r, length);
            for (size_t r = 1; r <= j; r++)
                add_run(&here[1], &ending[i * wide + j - r][0], r, length);
        }
    const Orders *last = ending[above * wide + below];
    const double p = (last[0].with + last[1].with) / (last[0].all + last[1].all);
    free(ending);
    return p;
}

double run_chart_p(const RunChart *chart) {
    if (chart->useful < RUN_CHART_FEWEST)
        return NAN;
    const size_t below = chart->useful - chart->above;
    const double run = given_longest(chart->above, below, chart->longest);
    const double few = given_crossings(chart->above, below, chart->crossings);
    return fmin(1, 2 * fmin(run, few));
}
