// SPDX-License-Identifier: GPL-3.0-or-later
// Mann-Whitney, van Elteren, Kruskal-Wallis and Kendall.
#include "stats/rank.h"
#include "stats/distribution.h"
#include "stats/order.h"
#include "stats/quantile.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const RankTest no_test = {NAN, NAN, NAN, NAN, NAN, false};

// Samples at least this large are not tested exactly unless asked.
enum { EXACT_BELOW = 50 };

static double *sorted_copy(const double *values, size_t n) {
    double *copy = malloc((n + 1) * sizeof *copy);
    if (copy != NULL) {
        memcpy(copy, values, n * sizeof *copy);
        quantile_sort(copy, n);
    }
    return copy;
}

// Sum of t^3 - t over the equal values of two samples taken together.
static double tie_sum(Runs x, Runs y) {
    double sum = 0;
    size_t i = 0, j = 0;
    while (i < x.k || j < y.k) {
        double value = j == y.k || (i < x.k && x.value[i] <= y.value[j]) ? x.value[i] : y.value[j];
        double t = 0;
        for (; i < x.k && x.value[i] == value; i++)
            t += runs_count(x, i);
        for (; j < y.k && y.value[j] == value; j++)
            t += runs_count(y, j);
        if (t == 0) // a NaN is equal to nothing
            return NAN;
        sum += t * t * t - t;
    }
    return sum;
}

// Pairs with x > y, ties half.
static double count_pairs(Runs x, Runs y) {
    double pairs = 0, below = 0, to = 0; // how many of y are below, and at most, the value of x
    size_t next_below = 0, next_to = 0;
    for (size_t i = 0; i < x.k; i++) {
        while (next_below < y.k && y.value[next_below] < x.value[i])
            below += runs_count(y, next_below++);
        while (next_to < y.k && y.value[next_to] <= x.value[i])
            to += runs_count(y, next_to++);
        pairs += runs_count(x, i) * (below + (to - below) / 2);
    }
    return pairs;
}

// ---- exact distributions ----

// The distributions are symmetric, and their rising half is the one free of cancellation.
static void mirror(double *points, size_t top) {
    for (size_t k = 0; k < top - k; k++)
        points[top - k] = points[k];
}

static void scale(double *points, size_t top) {
    double sum = 0;
    for (size_t k = 0; k <= top; k++)
        sum += points[k];
    for (size_t k = 0; k <= top; k++)
        points[k] /= sum;
}

// Probabilities of U = 0 .. m n: coefficients of the product over i = 1..m of
// (1 - q^(n+i))/(1 - q^i), divided by their sum (Mann & Whitney 1947). The caller frees.
static double *u_points(size_t m, size_t n) {
    size_t top = m * n;
    double *points = calloc(top + 1, sizeof *points);
    if (points == NULL)
        return NULL;
    points[0] = 1;
    for (size_t i = 1; i <= m; i++) {
        for (size_t k = top; k >= n + i; k--)
            points[k] -= points[k - n - i];
        for (size_t k = i; k <= top; k++)
            points[k] += points[k - i];
        mirror(points, i * n);
        memset(points + i * n + 1, 0, (top - i * n) * sizeof *points);
        scale(points, i * n);
    }
    return points;
}

// Probabilities of 0 .. n(n-1)/2 discordant pairs: product of (1 + q + .. + q^(i-1))/i.
static double *kendall_points(size_t n) {
    size_t top = n * (n - 1) / 2;
    double *points = calloc(top + 1, sizeof *points), *sums = calloc(top + 2, sizeof *sums);
    if (points != NULL && sums != NULL) {
        points[0] = 1;
        for (size_t i = 2; i <= n; i++) {
            for (size_t k = 0; k <= top; k++)
                sums[k + 1] = sums[k] + points[k];
            for (size_t k = 0; k <= top; k++)
                points[k] = (sums[k + 1] - sums[k + 1 > i ? k + 1 - i : 0]) / (double)i;
            mirror(points, i * (i - 1) / 2);
        }
    } else {
        free(points);
        points = NULL;
    }
    free(sums);
    return points;
}

static double sum_points(const double *points, size_t from, size_t to) {
    double sum = 0;
    for (size_t k = from; k <= to; k++)
        sum += points[k];
    return fmin(1, sum);
}

// ---- p-values ----

static void normal_p(RankTest *t, double distance, double sd, bool corrected) {
    double step = corrected ? 0.5 : 0, toward = distance > 0 ? step : distance < 0 ? -step : 0;
    t->z = (distance - toward) / sd;
    t->two_sided = distribution_normal_two_sided(t->z);
    t->greater = distribution_normal_lower(-(distance - step) / sd);
    t->less = distribution_normal_lower((distance + step) / sd);
}

static void exact_p(RankTest *t, const double *points, size_t top, double at) {
    size_t k = (size_t)at;
    t->less = sum_points(points, 0, k);
    t->greater = sum_points(points, k, top);
    t->two_sided = fmin(1, 2 * fmin(t->less, t->greater));
    t->exact = true;
}

static double u_sd(double nx, double ny, double ties) {
    double n = nx + ny;
    return sqrt(nx * ny / 12 * (n + 1 - ties / (n * (n - 1))));
}

RankTest rank_mann_whitney_runs(Runs x, Runs y, RankMethod method) {
    const double m = runs_size(x), n = runs_size(y), ties = tie_sum(x, y);
    RankTest t = no_test;
    if (m == 0 || n == 0 || isnan(ties))
        return t;
    t.statistic = count_pairs(x, y);
    double sd = u_sd(m, n, ties);
    if (!(sd > 0)) { // all values equal: every order of them gives this U
        t.two_sided = t.greater = t.less = 1;
        return t;
    }
    bool affordable = m < EXACT_BELOW && n < EXACT_BELOW;
    if (method == RANK_EXACT ? ties == 0 : method == RANK_AUTO && ties == 0 && affordable) {
        double *points = u_points((size_t)m, (size_t)n);
        if (points == NULL)
            return no_test;
        exact_p(&t, points, (size_t)m * (size_t)n, t.statistic);
        free(points);
    } else if (method != RANK_EXACT) {
        normal_p(&t, t.statistic - m * n / 2, sd, method != RANK_NORMAL_PLAIN);
    }
    return t;
}

double rank_sd_runs(Runs x, Runs y) {
    return u_sd(runs_size(x), runs_size(y), tie_sum(x, y));
}

double rank_limit_runs(Runs x, Runs y, double z, double tail) {
    const double m = runs_size(x), n = runs_size(y);
    if (m < EXACT_BELOW && n < EXACT_BELOW) {
        double *points = u_points((size_t)m, (size_t)n), sum = 0, rank = 0;
        for (; points != NULL && rank <= m * n; rank++)
            if ((sum += points[(size_t)rank]) >= tail)
                break;
        free(points);
        return points == NULL ? 0 : rank;
    }
    return fmax(0, floor(m * n / 2 - z * rank_sd_runs(x, y)));
}

RankTest rank_mann_whitney(const double *x, size_t nx, const double *y, size_t ny,
                           RankMethod method) {
    double *sx = sorted_copy(x, nx), *sy = sorted_copy(y, ny);
    RankTest t = sx == NULL || sy == NULL
                     ? no_test
                     : rank_mann_whitney_runs((Runs){nx, sx, NULL}, (Runs){ny, sy, NULL}, method);
    free(sx);
    free(sy);
    return t;
}

// ---- strata ----

RankStrata rank_van_elteren_runs(const Runs *x, const Runs *y, size_t strata) {
    RankStrata r = {NAN, NAN, NAN, NAN, NAN};
    double ahead = 0, ahead_variance = 0, size = 0, ranks = 0, variance = 0;
    size_t part = 0, last = 0;
    for (size_t s = 0; s < strata; s++) {
        const double m = runs_size(x[s]), n = runs_size(y[s]), all = m + n;
        if (m == 0 || n == 0)
            continue;
        const double sd = u_sd(m, n, tie_sum(x[s], y[s]));
        const double more = count_pairs(x[s], y[s]) - m * n / 2;
        ahead += more / (all + 1);
        ahead_variance += sd * sd / ((all + 1) * (all + 1));
        size += m;
        ranks += more / all;
        variance += m * n * (all + 1) / (12 * all * all);
        part++;
        last = s;
    }
    if (part == 0 || isnan(ahead_variance))
        return r;
    r.ahead = ahead;
    r.mean_rank = 0.5 + ranks / size;
    r.variance = variance / (size * size);
    r.two_sided = 1;
    if (part == 1) {
        const RankTest one = rank_mann_whitney_runs(x[last], y[last], RANK_AUTO);
        r.z = one.z;
        r.two_sided = one.two_sided;
    } else if (ahead_variance > 0) {
        r.z = ahead / sqrt(ahead_variance);
        r.two_sided = distribution_normal_two_sided(r.z);
    }
    return r;
}

// ---- Kruskal-Wallis ----

// A mid-rank counts those below and half of those at the value, and a half for itself.
double rank_sum_runs(Runs part, Runs all) {
    return count_pairs(part, all) + runs_size(part) / 2;
}

RankGroups rank_kruskal_wallis_runs(Runs all, const Runs *group, size_t groups) {
    RankGroups result = {NAN, NAN, NAN};
    const double size = runs_size(all), ties = tie_sum(all, (Runs){0, NULL, NULL});
    double filled = 0, h = 0;
    for (size_t g = 0; g < groups; g++) {
        const double n = runs_size(group[g]);
        if (n > 0) {
            const double apart = rank_sum_runs(group[g], all) / n - (size + 1) / 2;
            h += n * apart * apart;
            filled++;
        }
    }
    const double untied = 1 - ties / (size * size * size - size);
    if (filled >= 2 && untied > 0) {
        result.statistic = 12 * h / (size * (size + 1)) / untied;
        result.df = filled - 1;
        result.p = distribution_chisq_upper(result.statistic, result.df);
    }
    return result;
}

// Writes the values in ascending order to all, and group by group to the n places after them;
// next: room, a place a group.
static void deal(const double *values, const size_t *group, const size_t *order, size_t n,
                 double *all, Runs *runs, size_t groups, double **next) {
    double *dealt = all + n;
    for (size_t i = 0; i < n; i++) {
        all[i] = values[order[i]];
        runs[group[i]].k++;
    }
    for (size_t g = 0; g < groups; g++) {
        runs[g].value = next[g] = dealt;
        dealt += runs[g].k;
    }
    for (size_t i = 0; i < n; i++)
        *next[group[order[i]]]++ = all[i];
}

RankGroups rank_kruskal_wallis(const double *values, const size_t *group, size_t n, size_t groups) {
    RankGroups result = {NAN, NAN, NAN};
    size_t *order = order_ascending(values, n);
    double *all = malloc((2 * n + 1) * sizeof *all);
    Runs *runs = calloc(groups + 1, sizeof *runs);
    double **next = calloc(groups + 1, sizeof *next);
    if (order != NULL && all != NULL && runs != NULL && next != NULL) {
        deal(values, group, order, n, all, runs, groups, next);
        result = rank_kruskal_wallis_runs((Runs){n, all, NULL}, runs, groups);
    }
    free(order);
    free(all);
    free(runs);
    free(next);
    return result;
}

// ---- Kendall ----

typedef struct {
    double pairs, triples, cubic; // sums of t(t-1), t(t-1)(t-2), t(t-1)(2t+5) over runs of ties
} Ties;

static bool count_ties(const double *values, size_t n, Ties *ties) {
    *ties = (Ties){0, 0, 0};
    double *sorted = sorted_copy(values, n);
    if (sorted == NULL)
        return false;
    for (size_t i = 0, end; i < n; i = end) {
        for (end = i + 1; end < n && sorted[end] == sorted[i]; end++)
            ;
        double t = (double)(end - i);
        ties->pairs += t * (t - 1);
        ties->triples += t * (t - 1) * (t - 2);
        ties->cubic += t * (t - 1) * (2 * t + 5);
    }
    free(sorted);
    return true;
}

static double sign(double value) {
    return value > 0 ? 1 : value < 0 ? -1 : 0;
}

static double kendall_s(const double *x, const double *y, size_t n) {
    double s = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t j = i + 1; j < n; j++)
            s += (x == NULL ? 1 : sign(x[j] - x[i])) * sign(y[j] - y[i]);
    return s;
}

static double kendall_sd(double n, const Ties *x, const Ties *y) {
    double variance = (n * (n - 1) * (2 * n + 5) - x->cubic - y->cubic) / 18 +
                      x->pairs * y->pairs / (2 * n * (n - 1));
    if (n > 2)
        variance += x->triples * y->triples / (9 * n * (n - 1) * (n - 2));
    return sqrt(fmax(0, variance));
}

RankTest rank_kendall(const double *x, const double *y, size_t n, RankMethod method, double *tau) {
    RankTest t = no_test;
    Ties tx = {0, 0, 0}, ty;
    double size = (double)n, pairs = size * (size - 1);
    if (tau != NULL)
        *tau = NAN;
    if (n >= 2 && ((x != NULL && !count_ties(x, n, &tx)) || !count_ties(y, n, &ty)))
        return t;
    if (n < 2) {
        t.statistic = 0;
        return t;
    }
    t.statistic = kendall_s(x, y, n);
    if (tx.pairs == pairs || ty.pairs == pairs)
        return t;
    if (tau != NULL)
        *tau = 2 * t.statistic / sqrt((pairs - tx.pairs) * (pairs - ty.pairs));
    bool tied = tx.pairs > 0 || ty.pairs > 0;
    if (method == RANK_EXACT ? !tied : method == RANK_AUTO && !tied && n < EXACT_BELOW) {
        double *points = kendall_points(n); // of concordant pairs: alike, by symmetry
        if (points == NULL)
            return no_test;
        exact_p(&t, points, n * (n - 1) / 2, (t.statistic + pairs / 2) / 2);
        free(points);
    } else if (method != RANK_EXACT) {
        // S moves in steps of 2, so its correction is 1: halve both
        normal_p(&t, t.statistic / 2, kendall_sd(size, &tx, &ty) / 2, method != RANK_NORMAL_PLAIN);
    }
    return t;
}
