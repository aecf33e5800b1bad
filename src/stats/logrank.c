// SPDX-License-Identifier: GPL-3.0-or-later
// One walk along the sorted times for all weights; the covariance is eliminated at the end.
#include "stats/logrank.h"
#include "stats/distribution.h"
#include "stats/order.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// Sums over the times, and the counts at the time reached.
typedef struct {
    const LogrankData *data;
    LogrankWeight weight;
    double survival;                                // pooled, within the stratum
    double *at_risk, *events, *observed, *expected; // groups numbers each
    double *covariance;                             // groups x groups
} Walk;

static bool is_possible(const LogrankData *d) {
    for (size_t i = 0; i < d->n; i++)
        if (!(d->times[i] >= 0 && d->times[i] < INFINITY) || d->group[i] >= d->groups ||
            (d->stratum != NULL && d->stratum[i] >= d->strata))
            return false;
    return d->groups >= 2;
}

static size_t stratum_of(const LogrankData *d, size_t i) {
    return d->stratum == NULL ? 0 : d->stratum[i];
}

// Adds the events of one time: observed and expected in each group, and their covariance.
static void add_time(Walk *w) {
    size_t groups = w->data->groups;
    double n = 0, d = 0;
    for (size_t g = 0; g < groups; g++) {
        n += w->at_risk[g];
        d += w->events[g];
    }
    if (d == 0)
        return;
    double weight = w->weight == LOGRANK_GEHAN ? n : w->weight == LOGRANK_PETO ? w->survival : 1;
    double spread = n > 1 ? weight * weight * d * (n - d) / (n - 1) : 0;
    for (size_t g = 0; g < groups; g++) {
        double share = w->at_risk[g] / n;
        w->observed[g] += weight * w->events[g];
        w->expected[g] += weight * d * share;
        if (share == 0)
            continue;
        for (size_t h = 0; h < groups; h++)
            w->covariance[g * groups + h] += spread * share * ((g == h) - w->at_risk[h] / n);
    }
    w->survival *= (n - d) / n;
}

static void walk_stratum(Walk *w, const size_t *order, size_t n) {
    const LogrankData *d = w->data;
    size_t size = d->groups * sizeof *w->at_risk;
    memset(w->at_risk, 0, size);
    for (size_t i = 0; i < n; i++)
        w->at_risk[d->group[order[i]]]++;
    w->survival = 1;
    for (size_t i = 0, from = 0; i < n; from = i) {
        memset(w->events, 0, size);
        for (; i < n && d->times[order[i]] == d->times[order[from]]; i++)
            w->events[d->group[order[i]]] += d->event[order[i]];
        add_time(w);
        for (size_t j = from; j < i; j++)
            w->at_risk[d->group[order[j]]]--;
    }
}

// Subjects by stratum, then time, to be freed; where each stratum ends in `ends`, to be freed too.
static size_t *sorted(const LogrankData *d, size_t **ends) {
    size_t strata = d->stratum == NULL ? 1 : d->strata;
    size_t *by_time = order_ascending(d->times, d->n), *place = calloc(strata + 1, sizeof *place);
    size_t *order = malloc((d->n + 1) * sizeof *order);
    if (order == NULL || place == NULL || by_time == NULL) {
        free(by_time);
        free(order);
        free(place);
        return NULL;
    }
    for (size_t i = 0; i < d->n; i++)
        place[stratum_of(d, i) + 1]++;
    for (size_t s = 0; s < strata; s++)
        place[s + 1] += place[s];
    for (size_t i = 0; i < d->n; i++) // each place becomes the end of its stratum
        order[place[stratum_of(d, by_time[i])]++] = by_time[i];
    free(by_time);
    *ends = place;
    return order;
}

static bool walk_all(Walk *w) {
    const LogrankData *d = w->data;
    size_t *ends, *order = sorted(d, &ends), strata = d->stratum == NULL ? 1 : d->strata;
    if (order == NULL)
        return false;
    for (size_t s = 0, from = 0; s < strata; from = ends[s++])
        walk_stratum(w, order + from, ends[s] - from);
    free(order);
    free(ends);
    return true;
}

// b' V^- b and the rank of V by elimination: a group whose variance the others use up, or that has
// none, adds nothing. V and b are used up.
static LogrankTest eliminate(double *v, double *b, const double *variance, size_t k) {
    LogrankTest test = {0, 0, NAN};
    for (size_t j = 0; j < k; j++) {
        double pivot = v[j * k + j];
        if (!(pivot > 1e-9 * variance[j]))
            continue;
        test.statistic += b[j] * b[j] / pivot;
        test.df++;
        for (size_t i = j + 1; i < k; i++) {
            double part = v[i * k + j] / pivot;
            b[i] -= part * b[j];
            for (size_t l = j + 1; l < k; l++)
                v[i * k + l] -= part * v[j * k + l];
        }
    }
    if (test.df == 0)
        return (LogrankTest){NAN, NAN, NAN};
    test.p = distribution_chisq_upper(test.statistic, test.df);
    return test;
}

LogrankTest logrank_test(const LogrankData *data, LogrankWeight weight, double *observed,
                         double *expected, double *variance) {
    LogrankTest test = {NAN, NAN, NAN};
    size_t k = data->groups;
    double *room = is_possible(data) ? calloc(k * (k + 5), sizeof *room) : NULL;
    Walk w = {.data = data, .weight = weight};
    if (room != NULL) {
        w.at_risk = room;
        w.events = room + k;
        w.observed = room + 2 * k;
        w.expected = room + 3 * k;
        w.covariance = room + 5 * k;
    }
    bool done = room != NULL && walk_all(&w);
    for (size_t g = 0; g < k; g++) {
        if (observed != NULL)
            observed[g] = done ? w.observed[g] : NAN;
        if (expected != NULL)
            expected[g] = done ? w.expected[g] : NAN;
    }
    if (variance != NULL)
        *variance = done ? w.covariance[0] : NAN;
    if (done) {
        double *apart = w.events, *diagonal = room + 4 * k; // the walk needs the events no more
        for (size_t g = 0; g < k; g++) {
            apart[g] = w.observed[g] - w.expected[g];
            diagonal[g] = w.covariance[g * k + g];
        }
        test = eliminate(w.covariance, apart, diagonal, k);
    }
    free(room);
    return test;
}

// Subjects surely shorter than each less those surely longer; sorted by time.
static double gehan_sums(const LogrankData *d, const size_t *order, double *squares) {
    double sum = 0, events = 0; // events before the time reached
    *squares = 0;
    for (size_t i = 0, from = 0; i < d->n; from = i) {
        double here = 0;
        for (; i < d->n && d->times[order[i]] == d->times[order[from]]; i++)
            here += d->event[order[i]];
        double longer = (double)(d->n - from) - here;
        for (size_t j = from; j < i; j++) {
            double score = d->event[order[j]] ? events - longer : events + here;
            *squares += score * score;
            sum += d->group[order[j]] == 0 ? score : 0;
        }
        events += here;
    }
    return sum;
}

double logrank_gehan_permutation(const LogrankData *data) {
    size_t *ends, *order;
    LogrankData whole = *data;
    whole.stratum = NULL;
    if (!is_possible(data) || data->groups != 2 || (order = sorted(&whole, &ends)) == NULL)
        return NAN;
    double n = (double)data->n, n0 = 0, squares, sum = gehan_sums(&whole, order, &squares);
    for (size_t i = 0; i < data->n; i++)
        n0 += data->group[i] == 0;
    free(order);
    free(ends);
    double variance = n0 * (n - n0) / (n * (n - 1)) * squares;
    return variance > 0 ? sum / sqrt(variance) : NAN;
}
