// SPDX-License-Identifier: GPL-3.0-or-later
// One pass over the rows in the order of their risk does for all of these.
#include "stats/calibration.h"
#include "stats/order.h"

#include <math.h>
#include <stdlib.h>

static double trials_of(const double *trials, size_t i) {
    return trials == NULL ? 1 : trials[i];
}

// Row numbers by ascending risk, to be freed; NULL if a number is impossible or memory runs out.
static size_t *order_of(const double *risk, const double *events, const double *trials, size_t n) {
    for (size_t i = 0; i < n; i++)
        if (!(risk[i] >= 0 && risk[i] <= 1 && events[i] >= 0 && events[i] <= trials_of(trials, i)))
            return NULL;
    return order_ascending(risk, n);
}

static double c_statistic_of(const double *risk, const double *events, const double *trials,
                             size_t n, const size_t *order) {
    double all_events = 0, others = 0, pairs = 0;
    for (size_t i = 0; i < n;) {
        double tied_events = 0, tied_others = 0, value = risk[order[i]];
        for (; i < n && risk[order[i]] == value; i++) {
            tied_events += events[order[i]];
            tied_others += trials_of(trials, order[i]) - events[order[i]];
        }
        pairs += tied_events * (others + tied_others / 2);
        all_events += tied_events;
        others += tied_others;
    }
    return pairs / (all_events * others);
}

double calibration_c_statistic(const double *risk, const double *events, const double *trials,
                               size_t n) {
    size_t *order = order_of(risk, events, trials, n);
    const double c = order == NULL ? NAN : c_statistic_of(risk, events, trials, n, order);
    free(order);
    return c;
}

double calibration_brier(const double *risk, const double *events, const double *trials, size_t n) {
    double sum = 0, all = 0;
    for (size_t i = 0; i < n; i++) {
        double t = trials_of(trials, i);
        if (!(risk[i] >= 0 && risk[i] <= 1))
            return NAN;
        sum += events[i] * (1 - risk[i]) * (1 - risk[i]) + (t - events[i]) * risk[i] * risk[i];
        all += t;
    }
    return sum / all;
}

static void add(CalibrationGroup *g, double risk, double events, double trials) {
    if (g->trials == 0)
        g->lowest = risk;
    g->highest = risk;
    g->trials += trials;
    g->events += events;
    g->expected += trials * risk;
    g->mean = g->expected / g->trials;
}

size_t calibration_groups(const double *risk, const double *events, const double *trials, size_t n,
                          size_t groups, CalibrationGroup *result, double *c_statistic) {
    size_t *order = groups == 0 ? NULL : order_of(risk, events, trials, n), count = 0;
    if (c_statistic != NULL)
        *c_statistic = order == NULL ? NAN : c_statistic_of(risk, events, trials, n, order);
    if (order == NULL)
        return 0;
    double all = 0, seen = 0;
    for (size_t i = 0; i < n; i++)
        all += trials_of(trials, i);
    size_t open = groups; // number of the group being filled; none yet
    for (size_t i = 0; i < n && all > 0;) {
        double value = risk[order[i]];
        // a run of equal risks goes where its first trial falls
        size_t group = (size_t)fmin((double)groups - 1, floor(seen / all * (double)groups));
        if (group != open)
            result[count++] = (CalibrationGroup){0};
        open = group;
        for (; i < n && risk[order[i]] == value; i++) {
            double t = trials_of(trials, order[i]);
            if (t > 0)
                add(&result[count - 1], value, events[order[i]], t);
            seen += t;
        }
    }
    free(order);
    while (count > 0 && result[count - 1].trials == 0)
        count--;
    return count;
}

double calibration_hosmer_lemeshow(const CalibrationGroup *groups, size_t n) {
    double sum = n == 0 ? NAN : 0;
    for (size_t i = 0; i < n; i++) {
        double apart = groups[i].events - groups[i].expected;
        sum += apart * apart / (groups[i].expected * (1 - groups[i].mean));
    }
    return isfinite(sum) ? sum : NAN;
}
