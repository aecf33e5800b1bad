// SPDX-License-Identifier: GPL-3.0-or-later
// Runs of equal values.
#include "stats/runs.h"

#include <math.h>
#include <stdbool.h>

double runs_size(Runs r) {
    return r.upto == NULL ? (double)r.k : r.k > 0 ? r.upto[r.k - 1] : 0;
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

// room: 2 numbers for each run of both.
static Runs merged(Runs x, Runs y, double *room) {
    double *value = room, *upto = room + x.k + y.k, of_x = 0, of_y = 0;
    size_t k = 0;
    for (size_t i = 0, j = 0; i < x.k || j < y.k; k++) {
        const bool first = j == y.k || (i < x.k && x.value[i] <= y.value[j]);
        value[k] = first ? x.value[i] : y.value[j];
        for (; i < x.k && x.value[i] == value[k]; i++)
            of_x = runs_upto(x, i);
        for (; j < y.k && y.value[j] == value[k]; j++)
            of_y = runs_upto(y, j);
        upto[k] = of_x + of_y;
    }
    return (Runs){k, value, upto};
}

static size_t runs_of(const Runs *part, size_t parts) {
    size_t k = 0;
    for (size_t i = 0; i < parts; i++)
        k += part[i].k;
    return k;
}

// Halves first. room, other: 2 numbers for each run; what comes of it is in room or is a part.
static Runs by_halves(const Runs *part, size_t parts, double *room, double *other) {
    static const Runs none = {0, NULL, NULL};
    if (parts <= 1)
        return parts == 0 ? none : part->upto ? *part : merged(*part, none, room);
    const size_t half = parts / 2, before = 2 * runs_of(part, half);
    const Runs x = by_halves(part, half, other, room);
    const Runs y = by_halves(part + half, parts - half, other + before, room + before);
    return merged(x, y, room);
}

Runs runs_together(const Runs *part, size_t parts, double *room) {
    return by_halves(part, parts, room, room + 2 * runs_of(part, parts));
}

Runs runs_without(Runs all, Runs part, double *room) {
    List l = {0, room, room + all.k};
    for (size_t i = 0, j = 0; i < all.k; i++) {
        double away = 0;
        for (; j < part.k && part.value[j] == all.value[i]; j++)
            away += runs_count(part, j);
        append(&l, all.value[i], runs_count(all, i) - away);
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
