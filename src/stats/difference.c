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

// Both sides under p1 - p2 = delta: the smaller proportion is a, the larger a + gap, and the larger
// one's complement c, the smaller one's c + gap. Held so, nothing cancels near 0 or 1.
typedef struct {
    double x_small, n_small, x_large, n_large, gap;
} Restricted;

static double part(double count, double divisor) {
    return count == 0 ? 0 : count / divisor;
}

// Derivative of the log-likelihood by a.
static double likelihood_slope(const Restricted *r, double a, double c) {
    return part(r->x_small, a) + part(r->x_large, a + r->gap) - part(r->n_large - r->x_large, c) -
           part(r->n_small - r->x_small, c + r->gap);
}

// The same over u = log(a/c), turned so that it rises, and times ac, which keeps it finite.
static void likelihood_curve(double u, const void *context, double *value, double *slope) {
    const Restricted *r = context;
    double width = 1 - r->gap, a = width / (1 + exp(-u)), c = width / (1 + exp(u));
    double step = a * c / width, a2 = a + r->gap, c2 = c + r->gap;
    double bend = part(r->x_small, a * a) + part(r->x_large, a2 * a2) +
                  part(r->n_large - r->x_large, c * c) + part(r->n_small - r->x_small, c2 * c2);
    *value = -likelihood_slope(r, a, c) * step;
    *slope = bend * step * step;
}

// Maximum-likelihood a and c; at an end of their range where the likelihood is highest there.
static void maximise(const Restricted *r, double *a, double *c) {
    double width = 1 - r->gap;
    *a = *c = 0;
    if (likelihood_slope(r, 0, width) <= 0) {
        *c = width;
    } else if (likelihood_slope(r, width, 0) >= 0) {
        *a = width;
    } else {
        double x = r->x_small + r->x_large + 0.5, rest = r->n_small + r->n_large + 1 - x;
        double u = distribution_root(likelihood_curve, r, log(x / rest));
        *a = width / (1 + exp(-u));
        *c = width / (1 + exp(u));
    }
}

static double score(const Pair *t, double delta) {
    bool first_larger = delta >= 0;
    Restricted r = first_larger ? (Restricted){t->x2, t->n2, t->x1, t->n1, delta}
                                : (Restricted){t->x1, t->n1, t->x2, t->n2, -delta};
    double a, c;
    maximise(&r, &a, &c);
    double variance = (a * (c + r.gap) / r.n_small + (a + r.gap) * c / r.n_large) * t->inflation;
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
