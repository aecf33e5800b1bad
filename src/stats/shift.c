// SPDX-License-Identifier: GPL-3.0-or-later
// Shifts: a weighted median of differences is found by halving and interpolating, each time adding
// up the weight of the differences up to a limit.
#include "stats/shift.h"

#include "stats/distribution.h"
#include "stats/quantile.h"
#include "stats/rank.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static const StatsInterval undefined = {NAN, NAN, NAN};
static const double rounding = 1e-12; // sums of weights as near to each other as this are equal

// The strata that take part.
typedef struct {
    Runs x, y;
    double weight; // of each of its differences
} Part;

typedef struct {
    Part *part;
    size_t parts;
    double weight; // of all differences
} Pairs;

// ---- searching ----

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

// The differences x - y about a limit, by their weight.
typedef struct {
    double weight;             // of those at most the limit
    double below, above;       // the greatest of those, and the least of the others
    double at_below, at_above; // weight of either (less, where a list repeats a value)
} Around;

static void see_below(Around *a, double difference, double weight) {
    if (difference >= a->below) {
        a->at_below = (difference > a->below ? 0 : a->at_below) + weight;
        a->below = difference;
    }
}

static void see_above(Around *a, double difference, double weight) {
    if (difference <= a->above) {
        a->at_above = (difference < a->above ? 0 : a->at_above) + weight;
        a->above = difference;
    }
}

static void look_in(const Part *p, double limit, Around *a) {
    const Runs x = p->x, y = p->y;
    const double size = runs_size(y);
    double left = 0, count = 0; // left: of y, too small a subtrahend: those before run j
    for (size_t i = 0, j = 0; i < x.k; i++) {
        const double own = runs_count(x, i);
        while (j < y.k && x.value[i] - y.value[j] > limit)
            left += runs_count(y, j++);
        count += own * (size - left);
        if (j < y.k)
            see_below(a, x.value[i] - y.value[j], p->weight * own * runs_count(y, j));
        if (j > 0)
            see_above(a, x.value[i] - y.value[j - 1], p->weight * own * runs_count(y, j - 1));
    }
    a->weight += p->weight * count;
}

static Around look_around(const Pairs *pairs, double limit) {
    Around a = {0, -INFINITY, INFINITY, 0, 0};
    for (size_t s = 0; s < pairs->parts; s++)
        look_in(&pairs->part[s], limit, &a);
    return a;
}

// The least difference up to which they weigh w or more: first looked for at the guess, then by
// interpolation, and every third time halfway between doubles, each part cut back to the
// differences in it.
static double difference_at(const Pairs *pairs, double w, double guess) {
    double least = INFINITY, most = -INFINITY;
    for (size_t s = 0; s < pairs->parts; s++) {
        const Runs x = pairs->part[s].x, y = pairs->part[s].y;
        least = fmin(least, x.value[0] - y.value[y.k - 1]);
        most = fmax(most, x.value[x.k - 1] - y.value[0]);
    }
    int64_t low = to_order(least) - 1, high = to_order(most);
    double less = 0, more = pairs->weight; // up to low, up to high
    for (int step = 0; low + 1 < high; step++) {
        const double from = from_order(low), to = from_order(high);
        const double near = from + (to - from) * (w - less) / (more - less);
        const int64_t at = to_order(step == 0 ? guess : near);
        int64_t middle = low + (int64_t)(((uint64_t)high - (uint64_t)low) / 2);
        if (step % 3 < 2 && at > low && at < high)
            middle = at;
        const Around a = look_around(pairs, from_order(middle));
        if (a.weight >= w) {
            high = to_order(a.below);
            more = a.weight;
            if (a.weight - a.at_below < w)
                low = high - 1;
        } else {
            low = to_order(a.above) - 1;
            less = a.weight;
            if (a.weight + a.at_above >= w)
                high = low + 1;
        }
    }
    return from_order(high);
}

static double middle_of(const Pairs *pairs, double guess) {
    const double half = pairs->weight / 2;
    const double middle = difference_at(pairs, half * (1 - rounding), guess);
    const Around a = look_around(pairs, middle);
    return a.weight > half * (1 + rounding) ? middle : (middle + a.above) / 2;
}

// ---- guessing ----

static double median_of(Runs r) {
    return runs_at(r, ceil(runs_size(r) / 2));
}

static double quartile_range(Runs r) {
    return runs_at(r, ceil(runs_size(r) * 3 / 4)) - runs_at(r, ceil(runs_size(r) / 4));
}

static double share_of(const Pairs *pairs, const Part *p) {
    return p->weight * runs_size(p->x) * runs_size(p->y) / pairs->weight;
}

static double about_middle(const Pairs *pairs) {
    double guess = 0;
    for (size_t s = 0; s < pairs->parts; s++) {
        const Part *p = &pairs->part[s];
        guess += share_of(pairs, p) * (median_of(p->x) - median_of(p->y));
    }
    return guess;
}

// About how far the difference at a share of all of them from the middle lies from it, if they have
// a normal density there.
static double about_reach(const Pairs *pairs, double share) {
    static const double density = 0.538; // at the middle, for each quartile range
    double at_middle = 0;
    for (size_t s = 0; s < pairs->parts; s++) {
        const Part *p = &pairs->part[s];
        at_middle += share_of(pairs, p) * density /
                     fmax(1, hypot(quartile_range(p->x), quartile_range(p->y)));
    }
    return share / at_middle;
}

// ---- limits ----

// Weight of the differences up to the lower limit; not above 0 if there is none, NaN if a value is.
static double limit_weight(const Pairs *pairs, double z, double tail) {
    double variance = 0;
    for (size_t s = 0; s < pairs->parts; s++) {
        const Part *p = &pairs->part[s];
        variance += pow(p->weight * rank_sd_runs(p->x, p->y), 2);
    }
    if (pairs->parts == 1 && !isnan(variance))
        return rank_limit_runs(pairs->part[0].x, pairs->part[0].y, z, tail);
    return pairs->weight / 2 - z * sqrt(variance);
}

static StatsInterval shift_of(const Pairs *pairs, double z, double tail) {
    StatsInterval shift = undefined;
    const double w = limit_weight(pairs, z, tail);
    if (pairs->parts == 0 || isnan(w))
        return shift;
    shift.estimate = middle_of(pairs, about_middle(pairs));
    if (w > 0) {
        const double reach = about_reach(pairs, 0.5 - w / pairs->weight);
        const double one = pairs->parts == 1 ? 1 : 0; // ranks are counted from 1
        shift.lower = difference_at(pairs, w, shift.estimate - reach);
        shift.upper =
            difference_at(pairs, pairs->weight + one - w, 2 * shift.estimate - shift.lower);
    }
    return shift;
}

// tail: chance beyond z.
static StatsInterval within(const Runs *x, const Runs *y, size_t strata, double z, double tail) {
    Pairs pairs = {malloc((strata + 1) * sizeof(Part)), 0, 0};
    if (pairs.part == NULL || !(z > 0)) {
        free(pairs.part);
        return undefined;
    }
    for (size_t s = 0; s < strata; s++)
        if (x[s].k > 0 && y[s].k > 0)
            pairs.part[pairs.parts++] =
                (Part){x[s], y[s], 1 / (runs_size(x[s]) + runs_size(y[s]) + 1)};
    if (pairs.parts == 1)
        pairs.part[0].weight = 1;
    for (size_t s = 0; s < pairs.parts; s++) {
        const Part *p = &pairs.part[s];
        pairs.weight += p->weight * (runs_size(p->x) * runs_size(p->y));
    }
    const StatsInterval shift = shift_of(&pairs, z, tail);
    free(pairs.part);
    return shift;
}

StatsInterval shift_within_runs(const Runs *x, const Runs *y, size_t strata, double confidence) {
    return within(x, y, strata, distribution_normal_critical(confidence), (1 - confidence) / 2);
}

StatsInterval shift_within_deviate(const Runs *x, const Runs *y, size_t strata, double z) {
    return within(x, y, strata, z, distribution_normal_lower(-z));
}

static double *sorted_copy(const double *values, size_t n) {
    double *copy = malloc((n + 1) * sizeof *copy);
    if (copy != NULL) {
        memcpy(copy, values, n * sizeof *copy);
        quantile_sort(copy, n);
    }
    return copy;
}

StatsInterval shift_hodges_lehmann(const double *x, size_t nx, const double *y, size_t ny,
                                   double confidence) {
    double *sx = sorted_copy(x, nx), *sy = sorted_copy(y, ny);
    StatsInterval shift = undefined;
    if (sx != NULL && sy != NULL)
        shift = shift_within_runs(&(Runs){nx, sx, NULL}, &(Runs){ny, sy, NULL}, 1, confidence);
    free(sx);
    free(sy);
    return shift;
}
