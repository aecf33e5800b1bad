// SPDX-License-Identifier: GPL-3.0-or-later
// Minutes that requests waited, and which of them come at given places when they are sorted. Where
// many of them are stretches of one long list, that is counted beforehand.
#ifndef CROSSWARD_REPLAY_WAITS_H
#define CROSSWARD_REPLAY_WAITS_H

#include <stddef.h>
#include <stdint.h>

// A list of waits, counted at every step-th of them: how many of those before are of each group of
// minutes, and then of each minute.
typedef struct {
    int32_t *wait; // minutes, 0 at least
    size_t n, step;
    size_t groups;   // of minutes
    uint32_t *count; // NULL: not counted, since some are too long
} WaitsList;

// Room for n waits. Free what it holds with waits_free_list.
WaitsList waits_new_list(size_t n);
void waits_free_list(WaitsList *list);

// Takes n waits as the list, and counts them.
void waits_fill_list(WaitsList *list, const int32_t *wait, size_t n);

typedef struct {
    size_t from, to; // places in a list
} WaitsStretch;

typedef struct {
    const WaitsList *list; // that stretches are of; NULL if there are none
    WaitsStretch *stretch; // those that its counts tell of, in steps
    int32_t *single;       // all others
    size_t stretches, singles, n;
    uint32_t *tally; // room to count in
} Waits;

// Room for n waits, of `stretches` stretches at most. Free what it holds with waits_free.
Waits waits_new(size_t n, size_t stretches);
void waits_free(Waits *waits);

// Forgets all; stretches will be of this list.
void waits_reset(Waits *waits, const WaitsList *list);

void waits_add(Waits *waits, int32_t minutes);
void waits_add_stretch(Waits *waits, size_t from, size_t to);

// Those that come at places `rank` (0 first, not falling, below n) when all are sorted.
void waits_pick(Waits *waits, const size_t *rank, unsigned ranks, int32_t *minutes);

#endif
