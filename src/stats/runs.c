// SPDX-License-Identifier: GPL-3.0-or-later
// Runs of equal values.
#include "stats/runs.h"

#include <math.h>
#include <stdbool.h>

double runs_size(Runs r) {
    return r.upto == NULL ? (double)r.k : r.k > 0 ? r.upto[r.k - 1] : 0;
}

double runs_count(Runs r, size_t i) {
    return r.upto == NULL ? 1 : i > 0 ? r.upto[i] - r.upto[i - 1] : r.upto[0];
}

double runs_at(Runs r, double rank) {
    if (r.k == 0)
        return NAN;
    if (r.upto == NULL)
        return r.value[rank < 1 ? 0 : rank < (double)r.k ? (size_t)rank - 1 : r.k - 1];
    size_t low = 0, high = r.k - 1; // the first run that reaches the rank, or the last one
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (r.upto[middle] >= rank)
            high = middle;
        else
            low = middle + 1;
    }
    return r.value[low];
}

// A list under way in its room.
typedef struct {
    size_t k;
    double *value, *upto;
} List;

static void append(List *l, double value, double times) {
    if (!(times > 0))
        return;
    l->value[l->k] = value;
    l->upto[l->k] = (l->k > 0 ? l->upto[l->k - 1] : 0) + times;
    l->k++;
}

static Runs done(const List *l) {
    return (Runs){l->k, l->value, l->upto};
}

Runs runs_of_whole(const uint32_t *sorted, size_t n, double *room) {
    size_t k = 0;
    for (size_t i = 1; i < n; i++)
        k += sorted[i] != sorted[i - 1];
    const Runs runs = {n > 0 ? k + 1 : 0, room, room + k + 1};
    double *upto = room + k;
    for (size_t i = 0; i < n; i++) {
        if (i == 0 || sorted[i] != sorted[i - 1]) {
            *room++ = sorted[i];
            upto++;
        }
        *upto = (double)(i + 1);
    }
    return runs;
}

Runs runs_without(Runs all, Runs part, double *room) {
    List l = {0, room, room + all.k};
    for (size_t i = 0, j = 0; i < all.k; i++) {
        const bool both = j < part.k && part.value[j] == all.value[i];
        append(&l, all.value[i], runs_count(all, i) - (both ? runs_count(part, j) : 0));
        j += both;
    }
    return done(&l);
}

Runs runs_with(Runs r, double value, double times, double *room) {
    List l = {0, room, room + r.k + 1};
    const bool below = r.k > 0 && value < r.value[0];
    if (below)
        append(&l, value, times);
    for (size_t i = 0; i < r.k; i++)
        append(&l, r.value[i], runs_count(r, i));
    if (!below)
        append(&l, value, times);
    return done(&l);
}
