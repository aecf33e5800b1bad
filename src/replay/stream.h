// SPDX-License-Identifier: GPL-3.0-or-later
// A stream of requests on its way through the event loop, and what became of them, added up.
#ifndef CROSSWARD_REPLAY_STREAM_H
#define CROSSWARD_REPLAY_STREAM_H

#include "replay/trial.h"
#include "replay/waits.h"

// What became of requests.
typedef struct {
    uint32_t n[RULES_CLASSES], reached[RULES_CLASSES]; // by class
    uint32_t in_target;           // time-critical ones that leave within the network's target
    uint32_t busy, off_duty;      // not reached, by EngineState
    uint32_t busy_left, off_left; // the time-critical ones of these
    uint32_t kept;                // not reached, and the unit's own people went,
    uint32_t kept_unknown;        // how long is unknown
    int64_t kept_minutes;         // of own people where it is known
    int64_t minutes_out;          // of teams
} Outcome;

typedef struct {
    const Trial *trial;
    EngineRequest *request;
    uint32_t *source; // index of each in the demand
    uint8_t *stop;    // as engine_run_on takes it
    size_t n;
    EngineWork *work;
    EngineAnswer *answer;
    Outcome sum; // of those counted so far,
    Waits waits; // and of those of them that were reached, minutes to the team at the bedside
} Stream;

// Room for n requests; free what it holds with stream_clear.
Stream stream_new(const Trial *trial, size_t n);
void stream_clear(Stream *stream);

// Forgets what was counted. list: of the waits that stream_add will add, NULL if none.
void stream_reset(Stream *stream, const WaitsList *list);

// Counts the requests [from, to), which the fleet has answered.
void stream_count(Stream *stream, const EngineFleet *fleet, size_t from, size_t to);

// Counts other requests: those that `until` tells of but not `since`, both from the first request
// of a run on whose waits are the list.
void stream_add(Stream *stream, const Outcome *since, const Outcome *until);

uint32_t stream_reached(const Outcome *outcome); // of all classes

// All measures of what was counted but TRIAL_ADDS. days: that the requests spread over; on_duty:
// minutes on duty of all teams in these.
void stream_figures(Stream *stream, double days, double on_duty, double *value);

#endif
