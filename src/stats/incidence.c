// SPDX-License-Identifier: GPL-3.0-or-later
// Aalen-Johansen as a list of steps, and three variances of it.
#include "stats/incidence.h"
#include "stats/distribution.h"
#include "stats/order.h"

#include <math.h>
#include <stdlib.h>

// Counts of one time become a step of the curve, given what stands before it.
static void finish(IncidenceStep *s, const IncidenceStep *before) {
    const double survival = before ? before->survival : 1;
    s->incidence = (before ? before->incidence : 0) + survival * s->events / s->at_risk;
    s->survival = survival * ((s->at_risk - s->events - s->others) / s->at_risk);
}

bool incidence_curve(const double *times, const unsigned *end, size_t n, unsigned of,
                     IncidenceStep *steps, size_t *count) {
    *count = 0;
    for (size_t i = 0; i < n; i++)
        if (!(times[i] >= 0 && times[i] < INFINITY))
            return false;
    size_t *order = order_ascending(times, n);
    if (order == NULL)
        return false;
    for (size_t i = 0; i < n;) {
        IncidenceStep s = {.time = times[order[i]], .at_risk = (double)(n - i)};
        for (; i < n && times[order[i]] == s.time; i++) {
            s.events += end[order[i]] == of;
            s.others += end[order[i]] != 0 && end[order[i]] != of;
        }
        finish(&s, *count > 0 ? &steps[*count - 1] : NULL);
        steps[(*count)++] = s;
    }
    free(order);
    return true;
}

void incidence_of_counts(const IncidenceCounts *counts, unsigned of, IncidenceStep *steps) {
    double at_risk = 0;
    for (size_t i = counts->k * (counts->ends + 1); i > 0; i--)
        at_risk += counts->n[i - 1];
    for (size_t i = 0; i < counts->k; i++) {
        const double *n = counts->n + i * (counts->ends + 1);
        IncidenceStep s = {.time = counts->time[i], .at_risk = at_risk, .events = n[of]};
        for (unsigned e = 0; e <= counts->ends; e++) {
            s.others += e > 0 && e != of ? n[e] : 0;
            at_risk -= n[e];
        }
        finish(&s, i > 0 ? &steps[i - 1] : NULL);
        steps[i] = s;
    }
}

// How many steps are at or before t; false where incidence is not known at t.
static bool steps_until(const IncidenceStep *steps, size_t count, double t, size_t *until) {
    if (count == 0 || !(t >= 0) || (t > steps[count - 1].time && steps[count - 1].survival > 0))
        return false;
    size_t low = 0, high = count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (steps[middle].time <= t)
            low = middle + 1;
        else
            high = middle;
    }
    *until = low;
    return true;
}

double incidence_at(const IncidenceStep *steps, size_t count, double t) {
    size_t until;
    if (!steps_until(steps, count, t, &until))
        return NAN;
    return until == 0 ? 0 : steps[until - 1].incidence;
}

static double survival_before(const IncidenceStep *steps, size_t i) {
    return i == 0 ? 1 : steps[i - 1].survival;
}

// ---- variances of the incidence after the last of `count` steps ----

static double delta_variance(const IncidenceStep *steps, size_t count) {
    double sum = 0, last = steps[count - 1].incidence;
    for (size_t i = 0; i < count; i++) {
        double n = steps[i].at_risk, own = steps[i].events, all = own + steps[i].others;
        double later = last - steps[i].incidence, before = survival_before(steps, i);
        if (all < n) // with nobody left nothing comes later
            sum += later * later * all / (n * (n - all));
        sum += before * before * own * (n - own) / (n * n * n) - 2 * later * before * own / (n * n);
    }
    return sum;
}

// Of d ends among n, over n squared, less for ties.
static double jump(double d, double n) {
    return d * (n > 1 ? 1 - (d - 1) / (n - 1) : 1) / (n * n);
}

static double aalen_variance(const IncidenceStep *steps, size_t count) {
    double sum = 0, last = steps[count - 1].incidence;
    for (size_t i = 0; i < count; i++) {
        double n = steps[i].at_risk, own = steps[i].events, other = steps[i].others;
        double left = n - own - other, later = last - steps[i].incidence;
        double lost = left > 0 ? later * n / left : 0; // what an end here takes from later ones
        double gained = survival_before(steps, i) - lost;
        sum += gained * gained * jump(own, n) + lost * lost * jump(other, n);
    }
    return sum;
}

// Influence of a subject whose time is at step i: what it adds by its own end less what its being
// at risk at all steps up to i has added.
static double jackknife_variance(const IncidenceStep *steps, size_t count) {
    double sum = 0, last = steps[count - 1].incidence, risk = 0;
    for (size_t i = 0; i < count; i++) {
        double n = steps[i].at_risk, own = steps[i].events, all = own + steps[i].others;
        double later = last - steps[i].incidence, before = survival_before(steps, i);
        double gain = before / n, loss = all < n ? later / (n - all) : 0;
        risk += gain * own / n - loss * all / n;
        // who leaves without an end here, or is still there after the last step
        double left = n - all - (i + 1 < count ? steps[i + 1].at_risk : 0);
        sum += own * (gain - loss - risk) * (gain - loss - risk) +
               steps[i].others * (loss + risk) * (loss + risk) + left * risk * risk;
    }
    return sum;
}

double incidence_variance(const IncidenceStep *steps, size_t count, double t,
                          IncidenceVariance method) {
    size_t until;
    if (!steps_until(steps, count, t, &until))
        return NAN;
    if (until == 0)
        return 0;
    if (method == INCIDENCE_JACKKNIFE)
        return jackknife_variance(steps, until);
    return fmax(0, method == INCIDENCE_AALEN ? aalen_variance(steps, until)
                                             : delta_variance(steps, until));
}

StatsInterval incidence_interval(const IncidenceStep *steps, size_t count, double t,
                                 double confidence) {
    double f = incidence_at(steps, count, t), z = distribution_normal_critical(confidence);
    StatsInterval i = {f, NAN, NAN};
    if (!(f > 0 && f < 1 - 1e-12)) // 1 but for rounding: no limits, rather than 0 to 1
        return i;
    double error = sqrt(incidence_variance(steps, count, t, INCIDENCE_DELTA));
    double factor = exp(-z * error / (f * log(f)));
    i.lower = pow(f, factor);
    i.upper = pow(f, 1 / factor);
    return i;
}

double incidence_mean(const IncidenceStep *steps, size_t count, double until) {
    size_t last;
    if (isinf(until) || !steps_until(steps, count, until, &last))
        return NAN;
    double area = 0;
    for (size_t i = 0; i < last; i++)
        area += steps[i].incidence * ((i + 1 < last ? steps[i + 1].time : until) - steps[i].time);
    return area;
}
