// SPDX-License-Identifier: GPL-3.0-or-later
// Mann-Whitney, Hodges-Lehmann, Kruskal-Wallis and Kendall.
#include "stats/rank.h"
#include "stats/distribution.h"
#include "stats/order.h"
#include "stats/quantile.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static const RankTest no_test = {NAN, NAN, NAN, NAN, NAN, false};
static const StatsInterval undefined = {NAN, NAN, NAN};

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

// Sum of t^3 - t over the runs of equal values of two sorted samples taken together.
static double tie_sum(const double *x, size_t nx, const double *y, size_t ny) {
    double sum = 0;
    size_t i = 0, j = 0;
    while (i < nx || j < ny) {
        double value = j == ny || (i < nx && x[i] <= y[j]) ? x[i] : y[j], t = 0;
        for (; i < nx && x[i] == value; i++)
            t++;
        for (; j < ny && y[j] == value; j++)
            t++;
        if (t == 0) // a NaN is equal to nothing
            return NAN;
        sum += t * t * t - t;
    }
    return sum;
}

// Pairs with x > y, ties half, from sorted samples.
static double count_pairs(const double *x, size_t nx, const double *y, size_t ny) {
    double pairs = 0;
    size_t below = 0, to = 0;
    for (size_t i = 0; i < nx; i++) {
        while (below < ny && y[below] < x[i])
            below++;
        while (to < ny && y[to] <= x[i])
            to++;
        pairs += (double)below + (double)(to - below) / 2;
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

static RankTest mann_whitney_sorted(const double *x, size_t nx, const double *y, size_t ny,
                                    RankMethod method) {
    double ties = tie_sum(x, nx, y, ny), m = (double)nx, n = (double)ny;
    if (isnan(ties))
        return no_test;
    RankTest t = no_test;
    t.statistic = count_pairs(x, nx, y, ny);
    double sd = u_sd(m, n, ties);
    if (!(sd > 0)) { // all values equal: every order of them gives this U
        t.two_sided = t.greater = t.less = 1;
        return t;
    }
    bool affordable = nx < EXACT_BELOW && ny < EXACT_BELOW;
    if (method == RANK_EXACT ? ties == 0 : method == RANK_AUTO && ties == 0 && affordable) {
        double *points = u_points(nx, ny);
        if (points == NULL)
            return no_test;
        exact_p(&t, points, nx * ny, t.statistic);
        free(points);
    } else if (method != RANK_EXACT) {
        normal_p(&t, t.statistic - m * n / 2, sd, method != RANK_NORMAL_PLAIN);
    }
    return t;
}

RankTest rank_mann_whitney(const double *x, size_t nx, const double *y, size_t ny,
                           RankMethod method) {
    if (nx == 0 || ny == 0)
        return no_test;
    double *sx = sorted_copy(x, nx), *sy = sorted_copy(y, ny);
    RankTest t = sx == NULL || sy == NULL ? no_test : mann_whitney_sorted(sx, nx, sy, ny, method);
    free(sx);
    free(sy);
    return t;
}

// ---- Hodges-Lehmann ----

// Doubles and 64-bit numbers in the same order, so that halving ends on a value exactly.
static int64_t to_order(double value) {
    int64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits < 0 ? INT64_MIN - bits : bits;
}

static double from_order(int64_t order) {
    int64_t bits = order < 0 ? INT64_MIN - order : order;
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

// Number of differences x[i] - y[j] that are at most `limit`.
static double count_at_most(const double *x, size_t nx, const double *y, size_t ny, double limit) {
    double count = 0;
    size_t j = 0; // y[j..] are the subtrahends large enough for x[i]
    for (size_t i = 0; i < nx; i++) {
        while (j < ny && x[i] - y[j] > limit)
            j++;
        count += (double)(ny - j);
    }
    return count;
}

// The k-th smallest difference, k from 1, of sorted samples.
static double difference_at(const double *x, size_t nx, const double *y, size_t ny, double k) {
    int64_t low = to_order(x[0] - y[ny - 1]) - 1, high = to_order(x[nx - 1] - y[0]);
    while (low + 1 < high) {
        int64_t middle = low + (int64_t)(((uint64_t)high - (uint64_t)low) / 2);
        if (count_at_most(x, nx, y, ny, from_order(middle)) >= k)
            high = middle;
        else
            low = middle;
    }
    return from_order(high);
}

// Rank, from 1, of the ordered difference that is the lower limit; 0 if there is none.
static double shift_rank(const double *x, size_t nx, const double *y, size_t ny,
                         double confidence) {
    double tail = (1 - confidence) / 2, m = (double)nx, n = (double)ny;
    if (nx < EXACT_BELOW && ny < EXACT_BELOW) {
        double *points = u_points(nx, ny), sum = 0, rank = 0;
        for (size_t k = 0; points != NULL && k <= nx * ny; k++, rank++)
            if ((sum += points[k]) >= tail)
                break;
        free(points);
        return points == NULL ? 0 : rank;
    }
    double sd = u_sd(m, n, tie_sum(x, nx, y, ny));
    return fmax(0, floor(m * n / 2 - distribution_normal_critical(confidence) * sd));
}

static StatsInterval hodges_lehmann_sorted(const double *x, size_t nx, const double *y, size_t ny,
                                           double confidence) {
    double pairs = (double)nx * (double)ny, half = floor((pairs + 1) / 2);
    double rank = shift_rank(x, nx, y, ny, confidence);
    StatsInterval shift = undefined;
    shift.estimate = difference_at(x, nx, y, ny, half);
    if (fmod(pairs, 2) == 0)
        shift.estimate = (shift.estimate + difference_at(x, nx, y, ny, half + 1)) / 2;
    if (rank >= 1) {
        shift.lower = difference_at(x, nx, y, ny, rank);
        shift.upper = difference_at(x, nx, y, ny, pairs + 1 - rank);
    }
    return shift;
}

StatsInterval rank_hodges_lehmann(const double *x, size_t nx, const double *y, size_t ny,
                                  double confidence) {
    if (nx == 0 || ny == 0 || !(confidence > 0 && confidence < 1))
        return undefined;
    double *sx = sorted_copy(x, nx), *sy = sorted_copy(y, ny);
    StatsInterval shift = undefined;
    if (sx != NULL && sy != NULL && !isnan(tie_sum(sx, nx, sy, ny)))
        shift = hodges_lehmann_sorted(sx, nx, sy, ny, confidence);
    free(sx);
    free(sy);
    return shift;
}

// ---- Kruskal-Wallis ----

// Adds the mid-ranks of the ordered values to their groups' sums; returns the sum of t^3 - t.
static double add_ranks(const double *values, const size_t *order, const size_t *group, size_t n,
                        double *sums, double *counts) {
    double ties = 0;
    for (size_t i = 0, end; i < n; i = end) {
        for (end = i + 1; end < n && values[order[end]] == values[order[i]]; end++)
            ;
        double t = (double)(end - i), rank = (double)(i + end + 1) / 2;
        ties += t * t * t - t;
        for (size_t k = i; k < end; k++) {
            sums[group[order[k]]] += rank;
            counts[group[order[k]]]++;
        }
    }
    return ties;
}

RankGroups rank_kruskal_wallis(const double *values, const size_t *group, size_t n, size_t groups) {
    RankGroups result = {NAN, NAN, NAN};
    size_t *order = order_ascending(values, n);
    double *sums = calloc(2 * groups + 1, sizeof *sums), filled = 0, h = 0, size = (double)n;
    if (order != NULL && sums != NULL && n > 1) {
        double ties = add_ranks(values, order, group, n, sums, sums + groups);
        for (size_t g = 0; g < groups; g++)
            if (sums[groups + g] > 0) {
                double apart = sums[g] / sums[groups + g] - (size + 1) / 2;
                h += sums[groups + g] * apart * apart;
                filled++;
            }
        double untied = 1 - ties / (size * size * size - size);
        if (filled >= 2 && untied > 0) {
            result.statistic = 12 * h / (size * (size + 1)) / untied;
            result.df = filled - 1;
            result.p = distribution_chisq_upper(result.statistic, result.df);
        }
    }
    free(order);
    free(sums);
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
    if (n < 2 || (x != NULL && !count_ties(x, n, &tx)) || !count_ties(y, n, &ty))
        return t;
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
