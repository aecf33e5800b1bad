// SPDX-License-Identifier: GPL-3.0-or-later
// What the logs ask of the teams: requests in order of time, their routes, and the teams' times on
// each route.
#ifndef CROSSWARD_REPLAY_DEMAND_H
#define CROSSWARD_REPLAY_DEMAND_H

#include "replay/engine.h"
#include "replay/rules.h"
#include "replay/travel.h"

typedef struct {
    uint16_t from, to; // units of the patient's journey; to 0 = unknown
    uint8_t class;     // of the requests on it
} DemandRoute;

typedef enum { DEMAND_OTHERS, DEMAND_OWN, DEMAND_OWN_UNKNOWN } DemandOwn; // unknown: how long

typedef struct {
    size_t n;               // requests offered
    EngineRequest *request; // in order of time, class, row; at: minutes UTC
    uint32_t *row;          // the transfers behind them
    int32_t *own_minutes;   // that the sending unit's own people were away, 0 if others went or
                            // the length is unknown
    uint8_t *own;           // DemandOwn: whether those people went
    int32_t first_day, last_day; // local days of the first and last request
    uint64_t undated, not_offered, urgency_unknown, receiver_unknown, own_unknown; // records
    GArray *routes;                                                                // DemandRoute
    unsigned teams;        // as in the rules
    uint16_t *base;        // unit of each team
    int32_t *reach, *busy; // minutes by route and team, as EngineFleet has them; reach: from
                           // being sent to the bedside
    uint8_t *order;
    int32_t stabilisation[RULES_CLASSES], handover; // minutes, at the bedside by class
    double mean_own_hours;                          // of known absences, NaN if none
    Travel *travel;
} Demand;

// Requests with a known requested_at whose local day lies in [first_day, end_day) (WHEN_UNKNOWN as
// first_day: all) and for which `offered` isn't false. Teams without a base in the rules stand one
// by one at the sending units with most requests (ties by code), round again. Derived columns must
// be filled. Error (usage): a base that no log names, or a time that neither rules nor logs give.
// Free with demand_free.
Demand *demand_new(const Transfers *t, const Network *network, const Rules *rules,
                   int32_t first_day, int32_t end_day, GError **error);
void demand_free(Demand *demand);

// Shifts of all teams of a roster over the local days [first_day, last_day], and a week more so
// that nobody waits past the end for want of one: EngineShift, rising. At: minutes UTC with a
// network, else minutes of the local clock since first_day 00:00.
GArray *demand_shifts(const Rules *rules, const RulesRoster *roster, unsigned teams,
                      int32_t first_day, int32_t last_day, const Network *network);

#endif
