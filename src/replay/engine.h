// SPDX-License-Identifier: GPL-3.0-or-later
// Event simulation of teams that answer requests: who is sent to whom, when, and who is left.
#ifndef CROSSWARD_REPLAY_ENGINE_H
#define CROSSWARD_REPLAY_ENGINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// Time is in whole ticks (minutes in a replay) from any origin. Rules of the model:
// - At one instant, first teams come back and shifts change, then requests arrive, then teams are
//   sent. So a team back at the instant of a request is there for it (intervals are half-open).
// - Waiting requests are seen in order of class (0 first), within a class in order of arrival; each
//   takes the nearest team that is back, on duty and takes the class. Ties go to the team that
//   comes first in the order of its route.
// - A team is sent only while on duty; a call that it began it ends, also past its shift.
// - A request is left when its class's longest wait has passed and no team was sent at or before
//   that instant; those never sent to are left at the end.
enum { ENGINE_CLASSES = 4, ENGINE_MOST_TEAMS = 64 };
#define ENGINE_NEVER INT32_MAX // of a wait: no limit; of a dispatch: none was made

typedef struct {
    int32_t at;     // instant of the request
    uint32_t route; // index of its route, for reach, busy and order
    uint8_t class;  // priority, below ENGINE_CLASSES
} EngineRequest;

typedef struct {
    int32_t at;
    uint64_t on; // teams (bits) on duty from then on
} EngineShift;

typedef struct {
    unsigned teams;  // 0 to ENGINE_MOST_TEAMS
    unsigned stride; // teams for which the tables by route have room, at least `teams`
    // By route and team, [route * stride + team]:
    const int32_t *busy;  // ticks from the dispatch until the team can be sent again, at least 0
    const uint8_t *order; // teams from the nearest to the farthest: [route * stride + rank]; may
                          // name teams from `teams` on, which are passed over
    uint64_t takes[ENGINE_CLASSES]; // teams (bits) that take the class
    int32_t longest_wait[ENGINE_CLASSES];
    const EngineShift *shift; // rising; before the first one nobody is on duty
    size_t shifts;
} EngineFleet;

typedef enum {
    ENGINE_REACHED = 1, // a team was sent
    ENGINE_BUSY,        // left; when it was made a team that takes it was on duty, but out
    ENGINE_OFF_DUTY,    // left; when it was made no team that takes it was on duty
} EngineState;

typedef struct {
    uint8_t state;      // EngineState
    uint8_t team;       // that was sent; 0 if none
    int32_t dispatched; // when, ENGINE_NEVER if none
} EngineAnswer;

// Memory that runs share; one for each thread. Free with engine_work_free.
typedef struct EngineWork EngineWork;
EngineWork *engine_work_new(size_t requests); // room for so many; NULL when memory runs out
void engine_work_free(EngineWork *work);

// Runs n requests (at rising) against the fleet and fills answer[i] of each; none of these overlaps
// another in memory. Every request ends in
// exactly one state.
void engine_run(const EngineFleet *fleet, const EngineRequest *request, size_t n, EngineWork *work,
                EngineAnswer *answer);

// The same in pieces. The state is clear when every team is back and nobody waits: what comes then
// does not depend on what was before. After engine_begin, engine_run_on runs the requests from
// `from` on out of a clear state, either up to n or to the next request i at which the state is
// clear again and stop[i] is set (stop NULL: none is); it returns n or i, and requests up to there
// are answered. It may be called again with that `from` or a later one. With `more`, other requests
// follow, the first of them later than those before n: at n it leaves off, some of those before
// perhaps waiting still, and the next call goes on from there, with n as `from`.
void engine_begin(const EngineFleet *fleet, EngineWork *work);
size_t engine_run_on(const EngineFleet *fleet, const EngineRequest *request, size_t from, size_t n,
                     bool more, const uint8_t *stop, EngineWork *work, EngineAnswer *answer);

#endif
