// SPDX-License-Identifier: GPL-3.0-or-later
// A stream of requests on its way through the event loop, and what became of them, added up.
#ifndef CROSSWARD_REPLAY_STREAM_H
#define CROSSWARD_REPLAY_STREAM_H

#include "replay/trial.h"

// What became of requests.
typedef struct {
    uint32_t n[RULES_CLASSES], reached[RULES_CLASSES]; // by class
    uint32_t in_target;           // time-critical ones that leave within the network's target
    uint32_t busy, off_duty;      // not reached, by EngineState
    uint32_t busy_left, off_left; // the time-critical ones of these
    uint32_t kept;                // not reached, and the unit's own people went
    int64_t minutes_out;          // of teams
    double kept_hours;            // of own people, with those not reached
} Outcome;

typedef struct {
    const Trial *trial;
    EngineRequest *request;
    uint32_t *source; // index of each in the demand
    uint8_t *stop;    // as engine_run_on takes it
    size_t n;
    EngineWork *work;
    EngineAnswer *answer;
    Outcome sum;   // of those counted so far,
    int32_t *wait; // and of those of them that were reached, minutes to the team at the bedside
    size_t waits;
    uint32_t *tally; // room to count waits
} Stream;

// Room for n requests; free what it holds with stream_clear.
Stream stream_new(const Trial *trial, size_t n);
void stream_clear(Stream *stream);

// Forgets what was counted.
void stream_reset(Stream *stream);

// Counts the requests [from, to), which the fleet has answered.
void stream_count(Stream *stream, const EngineFleet *fleet, size_t from, size_t to);

// Counts other requests: what became of them is `until` without `since`, minutes are their waits.
void stream_add(Stream *stream, const Outcome *since, const Outcome *until, const int32_t *minutes);

uint32_t stream_reached(const Outcome *outcome); // of all classes

// All measures of what was counted but TRIAL_ADDS. days: that the requests spread over; on_duty:
// minutes on duty of all teams in these.
void stream_figures(Stream *stream, double days, double on_duty, double *value);

#endif
