// SPDX-License-Identifier: GPL-3.0-or-later
// Sweep over the ends of intervals in order of time.
#include "stats/concurrent.h"

#include "stats/order.h"

#include <stdlib.h>
#include <string.h>

typedef struct {
    int64_t at;
    int step; // +1 starts, -1 ends
} Edge;

typedef struct {
    size_t weeks, at; // at: a week not after the current time
    const int64_t *week;
    double *const *weekly;
} Calendar;

static void add_to_weeks(Calendar *c, unsigned level, int64_t from, int64_t to) {
    while (c->at < c->weeks && c->week[c->at + 1] <= from)
        c->at++;
    for (size_t w = c->at; w < c->weeks && c->week[w] < to; w++) {
        const int64_t a = from > c->week[w] ? from : c->week[w],
                      b = to < c->week[w + 1] ? to : c->week[w + 1];
        if (b > a)
            c->weekly[level][w] += (double)(b - a);
    }
}

// The edges of the intervals that have a length, in order of time; NULL if one is reversed.
// Half-open: at one time ends come before starts.
static Edge *edges_of(size_t n, const int64_t *start, const int64_t *end, size_t *count) {
    Edge *edges = malloc((2 * n + 1) * sizeof *edges);
    int64_t *starts = malloc((2 * n + 1) * sizeof *starts), *ends = starts + n;
    size_t k = 0, s = 0, e = 0;
    *count = 0;
    bool good = edges && starts;
    for (size_t i = 0; good && i < n; i++) {
        good = end[i] >= start[i];
        starts[k] = start[i];
        ends[k] = end[i];
        k += end[i] > start[i];
    }
    if (good) {
        order_settle(starts, k);
        order_settle(ends, k);
        while (e < k) {
            const bool starting = s < k && starts[s] < ends[e];
            edges[(*count)++] = starting ? (Edge){starts[s], 1} : (Edge){ends[e], -1};
            *(starting ? &s : &e) += 1;
        }
    }
    free(starts);
    if (!good)
        free(edges);
    return good ? edges : NULL;
}

bool concurrent_sweep(size_t n, const int64_t *start, const int64_t *end, Concurrent *result,
                      size_t weeks, const int64_t *week, double *const *weekly) {
    size_t count = 0;
    Edge *edges = edges_of(n, start, end, &count);
    if (!edges)
        return false;
    memset(result, 0, sizeof *result);
    Calendar calendar = {weeks, 0, week, weekly};
    int64_t since[CONCURRENT_LEVELS];
    for (unsigned k = 0; k < CONCURRENT_LEVELS; k++)
        since[k] = count ? edges[0].at : 0;
    unsigned running = 0;
    for (size_t i = 0; i < count; i++) {
        const int64_t now = edges[i].at;
        running = edges[i].step > 0 ? running + 1 : running - 1;
        if (i + 1 < count && edges[i + 1].at == now)
            continue; // all that happens at one time is seen together
        const int64_t next = i + 1 < count ? edges[i + 1].at : now;
        result->peak = running > result->peak ? running : result->peak;
        result->sum += (double)running * (double)(next - now);
        for (unsigned k = 0; k < CONCURRENT_LEVELS; k++) {
            if (running <= k) {
                since[k] = next;
                continue;
            }
            result->at_least[k] += (double)(next - now);
            if ((double)(next - since[k]) > result->longest[k])
                result->longest[k] = (double)(next - since[k]);
            if (weeks > 0)
                add_to_weeks(&calendar, k, now, next);
        }
    }
    free(edges);
    return true;
}

size_t concurrent_stretches(size_t n, const int64_t *start, const int64_t *end, unsigned level,
                            int64_t *from, int64_t *to) {
    size_t count = 0, found = 0;
    Edge *edges = edges_of(n, start, end, &count);
    unsigned running = 0;
    for (size_t i = 0; edges && i < count; i++) {
        const bool before = running >= level;
        running = edges[i].step > 0 ? running + 1 : running - 1;
        if (!before && running >= level)
            from[found] = edges[i].at;
        else if (before && running < level && edges[i].at > from[found])
            to[found++] = edges[i].at;
    }
    free(edges);
    return found;
}
