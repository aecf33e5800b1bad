// SPDX-License-Identifier: GPL-3.0-or-later
// The event loop. Requests come in order and teams are few, so that nothing needs a heap: the teams
// are looked through when the first one that is out comes back.
#include "replay/engine.h"

#include <stdlib.h>

struct EngineWork {
    uint32_t *queue[ENGINE_CLASSES]; // waiting requests by class, oldest first
    size_t head[ENGINE_CLASSES], tail[ENGINE_CLASSES];
    int64_t until[ENGINE_MOST_TEAMS]; // when each team that is out is back
    int64_t next_back;                // the least of those out; INT64_MAX: none is out
    uint64_t all, back, on;           // teams of the fleet; those not out; those on duty
    size_t next_shift;
    bool waits, left_off; // whether any waits; whether the next call goes on from the state
};

EngineWork *engine_work_new(size_t requests) {
    EngineWork *restrict w = calloc(1, sizeof *w);
    bool good = w != NULL;
    for (int c = 0; good && c < ENGINE_CLASSES; c++)
        good = (w->queue[c] = malloc((requests + 1) * sizeof **w->queue)) != NULL;
    if (good)
        return w;
    engine_work_free(w);
    return NULL;
}

void engine_work_free(EngineWork *restrict w) {
    for (int c = 0; w && c < ENGINE_CLASSES; c++)
        free(w->queue[c]);
    free(w);
}

// Teams that are back by `now` and shifts that have begun or ended by then.
static void advance(const EngineFleet *restrict f, EngineWork *restrict w, int32_t now) {
    if (w->next_back <= now) {
        int64_t next = INT64_MAX;
        for (uint64_t out = w->all & ~w->back; out; out &= out - 1) {
            const int64_t until = w->until[__builtin_ctzll(out)];
            if (until <= now)
                w->back |= out & -out;
            else if (until < next)
                next = until;
        }
        w->next_back = next;
    }
    while (w->next_shift < f->shifts && f->shift[w->next_shift].at <= now)
        w->on = f->shift[w->next_shift++].on & w->all;
}

static void leave(EngineWork *restrict w, unsigned c, EngineAnswer *restrict answer) {
    EngineAnswer *a = &answer[w->queue[c][w->head[c]++]];
    a->dispatched = ENGINE_NEVER; // its state was set when it arrived
    a->team = 0;
}

// Sends the nearest of the free teams (at least one).
static void send(const EngineFleet *restrict f, const EngineRequest *r, EngineWork *restrict w,
                 uint64_t free_now, int32_t now, EngineAnswer *a) {
    const size_t route = (size_t)r->route * f->stride;
    const uint8_t *order = &f->order[route];
    unsigned team = order[0];
    for (unsigned k = 1; !(free_now >> team & 1); k++)
        team = order[k];
    const int64_t until = (int64_t)now + f->busy[route + team];
    w->back &= ~(UINT64_C(1) << team);
    w->until[team] = until;
    w->next_back = until < w->next_back ? until : w->next_back;
    *a = (EngineAnswer){ENGINE_REACHED, (uint8_t)team, now};
}

// Sends teams to the waiting requests of class c; those whose time is up are left.
static void serve(const EngineFleet *restrict f, const EngineRequest *restrict request,
                  EngineWork *restrict w, unsigned c, int32_t now, EngineAnswer *restrict answer) {
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
        send(f, r, w, free_now, now, &answer[i]);
        w->head[c]++;
    }
}

static bool any_waits(const EngineWork *restrict w) {
    bool any = false;
    for (unsigned c = 0; c < ENGINE_CLASSES; c++)
        any |= w->head[c] < w->tail[c];
    return any;
}

// The next instant at which a team may be sent to one that waits; INT64_MAX if there is none.
static int64_t next_change(const EngineFleet *restrict f, const EngineWork *restrict w) {
    int64_t next = w->next_back;
    if (w->next_shift < f->shifts && f->shift[w->next_shift].at < next)
        next = f->shift[w->next_shift].at;
    return next;
}

// A request that comes alone, when no team that one waits for has become free since they were last
// served; whether it waits now.
static bool serve_alone(const EngineFleet *restrict f, const EngineRequest *restrict request,
                        size_t i, EngineWork *restrict w, EngineAnswer *restrict answer) {
    const EngineRequest *r = &request[i];
    const uint64_t on = w->on & f->takes[r->class];
    if (on & w->back) {
        send(f, r, w, on & w->back, r->at, &answer[i]);
        return false;
    }
    answer[i] = (EngineAnswer){on ? ENGINE_BUSY : ENGINE_OFF_DUTY, 0, ENGINE_NEVER};
    if (f->longest_wait[r->class] <= 0)
        return false;
    w->queue[r->class][w->tail[r->class]++] = (uint32_t)i;
    return true;
}

// Nobody is on duty in a fleet without teams, and its state is always clear.
static size_t leave_all(size_t from, size_t n, const uint8_t *restrict stop,
                        EngineAnswer *restrict answer) {
    size_t i = from;
    do
        answer[i++] = (EngineAnswer){ENGINE_OFF_DUTY, 0, ENGINE_NEVER};
    while (i < n && !(stop && stop[i]));
    return i;
}

void engine_begin(const EngineFleet *restrict f, EngineWork *restrict w) {
    w->next_shift = 0, w->on = 0, w->left_off = false;
    w->all = f->teams == 0 ? 0 : UINT64_MAX >> (ENGINE_MOST_TEAMS - f->teams);
}

static void clear_state(EngineWork *restrict w) {
    for (unsigned c = 0; c < ENGINE_CLASSES; c++)
        w->head[c] = w->tail[c] = 0;
    w->next_back = INT64_MAX, w->back = w->all, w->waits = false;
}

static void leave_waiting(EngineWork *restrict w, EngineAnswer *restrict answer) {
    for (unsigned c = 0; c < ENGINE_CLASSES; c++)
        while (w->head[c] < w->tail[c])
            leave(w, c, answer);
}

size_t engine_run_on(const EngineFleet *restrict f, const EngineRequest *restrict request,
                     size_t from, size_t n, bool more, const uint8_t *restrict stop,
                     EngineWork *restrict w, EngineAnswer *restrict answer) {
    if (f->teams == 0)
        return from < n ? leave_all(from, n, stop, answer) : n;
    const size_t first = w->left_off ? from : from + 1; // that it may stop at
    if (!w->left_off)
        clear_state(w);
    w->left_off = false;
    for (size_t i = from; i < n || (w->waits && !more);) {
        const int64_t change = w->waits ? next_change(f, w) : INT64_MAX;
        if (i == n && change == INT64_MAX)
            break;
        const int32_t now = i < n && request[i].at <= change ? request[i].at : (int32_t)change;
        advance(f, w, now);
        if (stop && w->back == w->all && !w->waits && i >= first && stop[i])
            return i;
        if (now < change && (i + 1 >= n || request[i + 1].at != now)) {
            w->waits |= serve_alone(f, request, i++, w, answer);
            continue;
        }
        for (; i < n && request[i].at == now; i++) {
            const unsigned c = request[i].class;
            answer[i].state = w->on & f->takes[c] ? ENGINE_BUSY : ENGINE_OFF_DUTY;
            w->queue[c][w->tail[c]++] = (uint32_t)i;
        }
        for (unsigned c = 0; c < ENGINE_CLASSES; c++)
            serve(f, request, w, c, now, answer);
        w->waits = any_waits(w);
    }
    w->left_off = more;
    if (!more)
        leave_waiting(w, answer);
    return n;
}

void engine_run(const EngineFleet *restrict f, const EngineRequest *restrict request, size_t n,
                EngineWork *restrict w, EngineAnswer *restrict answer) {
    engine_begin(f, w);
    engine_run_on(f, request, 0, n, false, NULL, w, answer);
}
