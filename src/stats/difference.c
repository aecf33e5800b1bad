// SPDX-License-Identifier: GPL-3.0-or-later
// Two proportions: hybrid score and asymptotic score intervals of their difference.
#include "stats/difference.h"
#include "stats/distribution.h"
#include "stats/proportion.h"

#include <math.h>

static const StatsInterval undefined = {NAN, NAN, NAN};

static bool is_comparable(double x1, double n1, double x2, double n2, double confidence) {
    return proportion_possible(x1, n1) && proportion_possible(x2, n2) && n1 > 0 && n2 > 0 &&
           confidence > 0 && confidence < 1;
}

static StatsInterval square_and_add(StatsInterval a, StatsInterval b) {
    double d = a.estimate - b.estimate;
    double below = hypot(a.estimate - a.lower, b.upper - b.estimate);
    double above = hypot(a.upper - a.estimate, b.estimate - b.lower);
    return (StatsInterval){d, d - below, d + above};
}

StatsInterval difference_newcombe(double x1, double n1, double x2, double n2, double confidence) {
    return square_and_add(proportion_wilson(x1, n1, confidence),
                          proportion_wilson(x2, n2, confidence));
}

StatsInterval difference_newcombe_corrected(double x1, double n1, double x2, double n2,
                                            double confidence) {
    return square_and_add(proportion_wilson_corrected(x1, n1, confidence),
                          proportion_wilson_corrected(x2, n2, confidence));
}

StatsInterval difference_wald(double x1, double n1, double x2, double n2, double confidence) {
    if (!is_comparable(x1, n1, x2, n2, confidence))
        return undefined;
    double p1 = x1 / n1, p2 = x2 / n2, d = p1 - p2;
    double half =
        distribution_normal_critical(confidence) * sqrt(p1 * (1 - p1) / n1 + p2 * (1 - p2) / n2);
    return (StatsInterval){d, d - half, d + half};
}

double difference_z(double x1, double n1, double x2, double n2) {
    if (!is_comparable(x1, n1, x2, n2, 0.95))
        return NAN;
    double pooled = (x1 + x2) / (n1 + n2);
    double variance = pooled * (1 - pooled) * (1 / n1 + 1 / n2);
    return variance > 0 ? (x1 / n1 - x2 / n2) / sqrt(variance) : NAN;
}

// ---- score intervals ----

typedef struct {
    double x1, n1, x2, n2, inflation;
} Pair;

// Maximum-likelihood p2 when p1 - p2 = delta: the root of a cubic (Miettinen & Nurminen 1985,
// appendix I), in the trigonometric form.
static double restricted_p2(const Pair *t, double delta) {
    double n = t->n1 + t->n2, events = t->x1 + t->x2;
    double l2 = ((t->n1 + 2 * t->n2) * delta - n - events) / n;
    double l1 = ((t->n2 * delta - n - 2 * t->x2) * delta + events) / n;
    double l0 = t->x2 * delta * (1 - delta) / n;
    double q = l2 * l2 * l2 / 27 - l1 * l2 / 6 + l0 / 2;
    double p = copysign(sqrt(fmax(0, l2 * l2 / 9 - l1 / 3)), q);
    double cosine = p == 0 ? 0 : q / (p * p * p);
    double angle = (M_PI + acos(fmax(-1, fmin(1, cosine)))) / 3;
    return fmax(fmax(0, -delta), fmin(fmin(1, 1 - delta), 2 * p * cos(angle) - l2 / 3));
}

static double score(const Pair *t, double delta) {
    double p2 = restricted_p2(t, delta), p1 = fmax(0, fmin(1, p2 + delta));
    double variance = (p1 * (1 - p1) / t->n1 + p2 * (1 - p2) / t->n2) * t->inflation;
    double distance = t->x1 / t->n1 - t->x2 / t->n2 - delta;
    if (distance == 0)
        return 0;
    return variance > 0 ? distance / sqrt(variance) : copysign(INFINITY, distance);
}

// The delta between `inner` (the estimate) and `outer` (-1 or 1) where |score| passes z, by
// halving: the score falls as delta grows, but is not smooth at the ends.
static double score_limit(const Pair *t, double inner, double outer, double z) {
    if (fabs(score(t, outer)) <= z)
        return outer;
    for (int i = 0; i < 100; i++) {
        double middle = inner + (outer - inner) / 2;
        if (middle == inner || middle == outer)
            break;
        if (fabs(score(t, middle)) <= z)
            inner = middle;
        else
            outer = middle;
    }
    return inner;
}

static StatsInterval score_interval(Pair t, double confidence) {
    if (!is_comparable(t.x1, t.n1, t.x2, t.n2, confidence))
        return undefined;
    double d = t.x1 / t.n1 - t.x2 / t.n2, z = distribution_normal_critical(confidence);
    return (StatsInterval){d, score_limit(&t, d, -1, z), score_limit(&t, d, 1, z)};
}

StatsInterval difference_miettinen_nurminen(double x1, double n1, double x2, double n2,
                                            double confidence) {
    double n = n1 + n2;
    return score_interval((Pair){x1, n1, x2, n2, n / (n - 1)}, confidence);
}

StatsInterval difference_mee(double x1, double n1, double x2, double n2, double confidence) {
    return score_interval((Pair){x1, n1, x2, n2, 1}, confidence);
}
