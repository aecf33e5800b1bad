// SPDX-License-Identifier: GPL-3.0-or-later
// The event loop. Requests come in order, so only returns of teams need a heap.
#include "replay/engine.h"

#include <stdlib.h>

struct EngineWork {
    uint32_t *queue[ENGINE_CLASSES]; // waiting requests by class, oldest first
    size_t head[ENGINE_CLASSES], tail[ENGINE_CLASSES];
    int64_t heap[ENGINE_MOST_TEAMS]; // return time * ENGINE_MOST_TEAMS + team; least at [0]
    unsigned out;                    // teams in the heap
    uint64_t all, back, on;          // teams of the fleet; those not out; those on duty
    size_t next_shift;
};

EngineWork *engine_work_new(size_t requests) {
    EngineWork *w = calloc(1, sizeof *w);
    bool good = w != NULL;
    for (int c = 0; good && c < ENGINE_CLASSES; c++)
        good = (w->queue[c] = malloc((requests + 1) * sizeof **w->queue)) != NULL;
    if (good)
        return w;
    engine_work_free(w);
    return NULL;
}

void engine_work_free(EngineWork *w) {
    for (int c = 0; w && c < ENGINE_CLASSES; c++)
        free(w->queue[c]);
    free(w);
}

static void push(EngineWork *w, int64_t key) {
    unsigned i = w->out++;
    for (; i > 0 && w->heap[(i - 1) / 2] > key; i = (i - 1) / 2)
        w->heap[i] = w->heap[(i - 1) / 2];
    w->heap[i] = key;
}

static int64_t pop(EngineWork *w) {
    const int64_t least = w->heap[0], last = w->heap[--w->out];
    unsigned i = 0;
    for (unsigned child = 1; child < w->out; child = 2 * i + 1) {
        if (child + 1 < w->out && w->heap[child + 1] < w->heap[child])
            child++;
        if (w->heap[child] >= last)
            break;
        w->heap[i] = w->heap[child];
        i = child;
    }
    w->heap[i] = last;
    return least;
}

// Teams that are back by `now` and shifts that have begun or ended by then.
static void advance(const EngineFleet *f, EngineWork *w, int32_t now) {
    while (w->out > 0 && w->heap[0] < ((int64_t)now + 1) * ENGINE_MOST_TEAMS)
        w->back |= UINT64_C(1) << (pop(w) & (ENGINE_MOST_TEAMS - 1));
    while (w->next_shift < f->shifts && f->shift[w->next_shift].at <= now)
        w->on = f->shift[w->next_shift++].on & w->all;
}

static void leave(EngineWork *w, unsigned c, EngineAnswer *answer) {
    EngineAnswer *a = &answer[w->queue[c][w->head[c]++]];
    a->dispatched = ENGINE_NEVER; // its state was set when it arrived
    a->team = 0;
}

// Sends teams to the waiting requests of class c; those whose time is up are left.
static void serve(const EngineFleet *f, const EngineRequest *request, EngineWork *w, unsigned c,
                  int32_t now, EngineAnswer *answer) {
    while (w->head[c] < w->tail[c]) {
        const uint32_t i = w->queue[c][w->head[c]];
        const EngineRequest *r = &request[i];
        const int64_t up = (int64_t)r->at + f->longest_wait[c]; // the last instant it waits
        const bool endless = f->longest_wait[c] == ENGINE_NEVER;
        const uint64_t free_now = w->back & w->on & f->takes[c];
        if (free_now == 0 || (!endless && up < now)) {
            if (endless || up > now)
                return;
            leave(w, c, answer);
            continue;
        }
        const uint8_t *order = &f->order[(size_t)r->route * f->stride];
        unsigned team = order[0];
        for (unsigned k = 1; !(free_now >> team & 1); k++)
            team = order[k];
        w->back &= ~(UINT64_C(1) << team);
        push(w, ((int64_t)now + f->busy[(size_t)r->route * f->stride + team]) * ENGINE_MOST_TEAMS +
                    team);
        w->head[c]++;
        answer[i] = (EngineAnswer){ENGINE_REACHED, (uint8_t)team, now};
    }
}

static bool any_waits(const EngineWork *w) {
    bool any = false;
    for (unsigned c = 0; c < ENGINE_CLASSES; c++)
        any |= w->head[c] < w->tail[c];
    return any;
}

// The next instant at which a team may be sent to one that waits; INT64_MAX if there is none.
static int64_t next_change(const EngineFleet *f, const EngineWork *w) {
    int64_t next = w->out > 0 ? w->heap[0] / ENGINE_MOST_TEAMS : INT64_MAX;
    if (w->out > 0 && w->heap[0] < 0 && next * ENGINE_MOST_TEAMS > w->heap[0])
        next--; // division rounds towards 0
    if (w->next_shift < f->shifts && f->shift[w->next_shift].at < next)
        next = f->shift[w->next_shift].at;
    return next;
}

void engine_run(const EngineFleet *f, const EngineRequest *request, size_t n, EngineWork *w,
                EngineAnswer *answer) {
    for (unsigned c = 0; c < ENGINE_CLASSES; c++)
        w->head[c] = w->tail[c] = 0;
    w->out = 0, w->next_shift = 0, w->on = 0;
    w->back = w->all = f->teams == 0 ? 0 : UINT64_MAX >> (ENGINE_MOST_TEAMS - f->teams);
    bool waits = false;
    for (size_t i = 0; i < n || waits;) {
        const int64_t change = waits ? next_change(f, w) : INT64_MAX;
        if (i == n && change == INT64_MAX)
            break;
        const int32_t now = i < n && request[i].at <= change ? request[i].at : (int32_t)change;
        advance(f, w, now);
        for (; i < n && request[i].at == now; i++) {
            const unsigned c = request[i].class;
            answer[i].state = w->on & f->takes[c] ? ENGINE_BUSY : ENGINE_OFF_DUTY;
            w->queue[c][w->tail[c]++] = (uint32_t)i;
        }
        for (unsigned c = 0; c < ENGINE_CLASSES; c++)
            serve(f, request, w, c, now, answer);
        waits = any_waits(w);
    }
    for (unsigned c = 0; c < ENGINE_CLASSES; c++)
        while (w->head[c] < w->tail[c])
            leave(w, c, answer);
}
