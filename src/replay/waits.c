// SPDX-License-Identifier: GPL-3.0-or-later
// Waits by their rank: counted by groups of minutes, and within the groups that are asked for.
#include "replay/waits.h"

#include <glib.h>
#include <stdlib.h>
#include <string.h>

enum {
    GROUP = 32,      // minutes of a group
    TALLY = 1 << 15, // waits below this are ranked by counting
    ROOM = 1 << 22,  // counts in all, about,
    SHORTEST = 8,    // in rows, each so many waits after the one before, at least
    AT_ONCE = 16,    // groups that are added up at once
};

// ---- the list ----

WaitsList waits_new_list(size_t n) {
    return (WaitsList){.wait = g_new(int32_t, n + 1)};
}

void waits_free_list(WaitsList *l) {
    g_free(l->wait);
    g_free(l->count);
}

static size_t row_length(const WaitsList *l) {
    return l->groups * (GROUP + 1);
}

static int32_t longest(const int32_t *wait, size_t n) {
    int32_t most = 0;
    for (size_t i = 0; i < n; i++)
        most = MAX(most, wait[i]);
    return most;
}

void waits_fill_list(WaitsList *l, const int32_t *wait, size_t n) {
    const int32_t most = longest(wait, n);
    memcpy(l->wait, wait, n * sizeof *wait);
    l->n = n;
    l->groups = ((size_t)most / GROUP / AT_ONCE + 1) * AT_ONCE;
    l->step = MAX(SHORTEST, n * row_length(l) / ROOM + 1);
    g_clear_pointer(&l->count, g_free);
    if (most >= TALLY)
        return;
    const size_t rows = n / l->step + 1, length = row_length(l);
    l->count = g_new(uint32_t, rows * length);
    memset(l->count, 0, length * sizeof *l->count);
    for (size_t r = 1; r < rows; r++) {
        uint32_t *row = l->count + r * length, *minute = row + l->groups;
        memcpy(row, row - length, length * sizeof *row);
        for (size_t i = (r - 1) * l->step; i < r * l->step; i++) {
            row[wait[i] / GROUP]++;
            minute[wait[i]]++;
        }
    }
}

// ---- some waits ----

Waits waits_new(size_t n, size_t stretches) {
    return (Waits){.stretch = g_new(WaitsStretch, stretches + 1),
                   .single = g_new(int32_t, n + 1),
                   .tally = g_new0(uint32_t, TALLY)};
}

void waits_free(Waits *w) {
    g_free(w->stretch);
    g_free(w->single);
    g_free(w->tally);
}

void waits_reset(Waits *w, const WaitsList *list) {
    w->list = list;
    w->stretches = w->singles = w->n = 0;
}

void waits_add(Waits *w, int32_t minutes) {
    w->single[w->singles++] = minutes;
    w->n++;
}

static void add_singles(Waits *w, size_t from, size_t to) {
    memcpy(w->single + w->singles, w->list->wait + from, (to - from) * sizeof *w->single);
    w->singles += to - from;
}

void waits_add_stretch(Waits *w, size_t from, size_t to) {
    const size_t step = w->list->step, a = (from + step - 1) / step, b = to / step;
    w->n += to - from;
    if (!w->list->count || a >= b) {
        add_singles(w, from, to);
        return;
    }
    add_singles(w, from, a * step);
    add_singles(w, b * step, to);
    w->stretch[w->stretches++] = (WaitsStretch){a, b};
}

// ---- ranks ----

static int by_minutes(const void *a, const void *b) {
    const int32_t x = *(const int32_t *)a, y = *(const int32_t *)b;
    return x < y ? -1 : x > y;
}

static void pick_sorted(Waits *w, const size_t *rank, unsigned ranks, int32_t *minutes) {
    for (size_t i = 0; i < w->stretches; i++)
        add_singles(w, w->stretch[i].from * w->list->step, w->stretch[i].to * w->list->step);
    w->stretches = 0;
    qsort(w->single, w->singles, sizeof *w->single, by_minutes);
    for (unsigned r = 0; r < ranks; r++)
        minutes[r] = w->single[rank[r]];
}

// Adds what lies between two rows; n a multiple of AT_ONCE.
static void add_between(uint32_t *restrict sum, const uint32_t *restrict from,
                        const uint32_t *restrict to, size_t n) {
    for (size_t i = 0; i < n; i += AT_ONCE)
        for (size_t k = i; k < i + AT_ONCE; k++)
            sum[k] += to[k] - from[k];
}

// Adds the stretches' counts from place `at` of a row on.
static void add_stretches(const Waits *w, size_t at, size_t n, uint32_t *sum) {
    const size_t length = w->stretches ? row_length(w->list) : 0;
    for (size_t i = 0; i < w->stretches; i++)
        add_between(sum, w->list->count + w->stretch[i].from * length + at,
                    w->list->count + w->stretch[i].to * length + at, n);
}

static void pick_counted(Waits *w, const size_t *rank, unsigned ranks, int32_t *minutes) {
    uint32_t group[TALLY / GROUP] = {0}, minute[GROUP];
    const size_t known = w->stretches ? w->list->groups : 0;
    add_stretches(w, 0, known, group);
    for (size_t i = 0; i < w->singles; i++) {
        group[w->single[i] / GROUP]++;
        w->tally[w->single[i]]++;
    }
    size_t before = 0;
    unsigned r = 0;
    for (size_t g = 0; r < ranks; before += group[g++]) {
        if (rank[r] >= before + group[g])
            continue;
        memcpy(minute, w->tally + g * GROUP, sizeof minute);
        if (g < known)
            add_stretches(w, known + g * GROUP, GROUP, minute);
        size_t so_far = before;
        for (size_t m = 0; m < GROUP; m++) {
            so_far += minute[m];
            while (r < ranks && rank[r] < so_far)
                minutes[r++] = (int32_t)(g * GROUP + m);
        }
    }
    for (size_t i = 0; i < w->singles; i++)
        w->tally[w->single[i]] = 0;
}

void waits_pick(Waits *w, const size_t *rank, unsigned ranks, int32_t *minutes) {
    if (longest(w->single, w->singles) >= TALLY)
        pick_sorted(w, rank, ranks, minutes);
    else
        pick_counted(w, rank, ranks, minutes);
}
