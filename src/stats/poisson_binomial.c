// SPDX-License-Identifier: GPL-3.0-or-later
// The Poisson-binomial distribution, exactly.
#include "stats/poisson_binomial.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// Probabilities below this are cut off at the ends: far below what any p-value needs, and it keeps
// the work to the part of the range where the distribution is.
static const double negligible = 1e-290;

// So many trials are taken one at a time; more are halved, never into parts below LEAST.
enum { LEAST = 24, FEW = 2 * LEAST };

// Where a distribution is: its probabilities outside low..high are 0.
typedef struct {
    size_t low, high;
} Range;

static Range trim(double *points, Range r, double least) {
    while (r.low < r.high && points[r.low] < least)
        points[r.low++] = 0;
    while (r.high > r.low && points[r.high] < least)
        points[r.high--] = 0;
    return r;
}

static Range one_by_one(const double *p, size_t n, double least, double *points) {
    Range r = {0, 0};
    memset(points, 0, (n + 1) * sizeof *points);
    points[0] = 1;
    for (size_t i = 0; i < n; i++) {
        double q = 1 - p[i];
        r.high++;
        for (size_t k = r.high; k > r.low; k--)
            points[k] = points[k] * q + points[k - 1] * p[i];
        points[r.low] *= q;
        r = trim(points, r, least);
    }
    return r;
}

// Places for the points of n trials and of all the parts that they are halved into.
static size_t places(size_t n) {
    return n + (n < LEAST ? 1 : n / LEAST);
}

// Adds the products of left[0..4) with right to points, each point's terms in the order of left.
// Points in the middle have all four, eight at a time, so that compilers can take them together.
static void add_four(const double *left, const double *right, Range b, double *restrict points) {
    enum { TOGETHER = 8 };
    const double l0 = left[0], l1 = left[1], l2 = left[2], l3 = left[3];
    const double *restrict r = right + b.low;
    const size_t n = b.high - b.low + 1;
    size_t k = 0;
    points += b.low;
    for (; k < 3 && k < n; k++)
        points[k] =
            points[k] + l0 * r[k] + l1 * (k > 0 ? r[k - 1] : 0) + l2 * (k > 1 ? r[k - 2] : 0);
    for (; k + TOGETHER <= n; k += TOGETHER) {
        double *restrict p = points + k;
        const double *restrict q = r + k - 3;
        for (int i = 0; i < TOGETHER; i++)
            p[i] = p[i] + l0 * q[i + 3] + l1 * q[i + 2] + l2 * q[i + 1] + l3 * q[i];
    }
    for (; k < n; k++)
        points[k] = points[k] + l0 * r[k] + l1 * r[k - 1] + l2 * r[k - 2] + l3 * r[k - 3];
    const double r1 = r[n - 1], r2 = n > 1 ? r[n - 2] : 0, r3 = n > 2 ? r[n - 3] : 0;
    points[n] = points[n] + l1 * r1 + l2 * r2 + l3 * r3;
    points[n + 1] = points[n + 1] + l2 * r1 + l3 * r2;
    points[n + 2] = points[n + 2] + l3 * r1;
}

static void convolve(const double *left, Range a, const double *right, Range b, double *points) {
    size_t i = a.low;
    for (; i + 3 <= a.high; i += 4)
        add_four(left + i, right, b, points + i);
    for (; i <= a.high; i++)
        for (size_t k = b.low; k <= b.high; k++)
            points[i + k] += left[i] * right[k];
}

// points, room: places(n) each.
static Range by_halves(const double *p, size_t n, double least, double *points, double *room) {
    if (n <= FEW)
        return one_by_one(p, n, least, points);
    const size_t half = n / 2, next = places(half);
    double *left = room, *right = room + next;
    const Range a = by_halves(p, half, least, left, points);
    const Range b = by_halves(p + half, n - half, least, right, points + next);
    memset(points, 0, (n + 1) * sizeof *points);
    convolve(left, a, right, b, points);
    return trim(points, (Range){a.low + b.low, a.high + b.high}, least);
}

bool poisson_binomial_part(const double *p, size_t n, double least, double *points) {
    for (size_t i = 0; i < n; i++)
        if (!(p[i] >= 0 && p[i] <= 1))
            return false;
    double *room = malloc(2 * places(n) * sizeof *room);
    if (room == NULL)
        return false;
    by_halves(p, n, least, room, room + places(n));
    memcpy(points, room, (n + 1) * sizeof *points);
    free(room);
    return true;
}

bool poisson_binomial_points(const double *p, size_t n, double *points) {
    return poisson_binomial_part(p, n, negligible, points);
}

// Summed from the far end, small to large.
double poisson_binomial_lower(const double *points, size_t n, size_t k) {
    double sum = 0;
    for (size_t i = 0; i <= k && i <= n; i++)
        sum += points[i];
    return fmin(1, sum);
}

double poisson_binomial_upper(const double *points, size_t n, size_t k) {
    double sum = 0;
    for (size_t i = n + 1; i > k; i--)
        sum += points[i - 1];
    return fmin(1, sum);
}

double poisson_binomial_midp(const double *points, size_t n, size_t k) {
    if (k > n)
        return 0;
    double below = k == 0 ? 0 : poisson_binomial_lower(points, n, k - 1);
    double above = poisson_binomial_upper(points, n, k + 1);
    return fmin(1, 2 * fmin(below, above) + points[k]);
}

size_t poisson_binomial_quantile(const double *points, size_t n, double q) {
    double sum = points[0];
    size_t k = 0;
    while (k < n && sum < q * (1 - 1e-14))
        sum += points[++k];
    return k;
}
