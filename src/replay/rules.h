// SPDX-License-Identifier: GPL-3.0-or-later
// The rules of a replay: teams, bases, hours on duty, who takes what, how long a request may wait.
#ifndef CROSSWARD_REPLAY_RULES_H
#define CROSSWARD_REPLAY_RULES_H

#include "record/condition.h"
#include "record/network.h"

enum { RULES_CLASSES = CODE_urgency_END - 1 }; // class = urgency's code - 1, 0 = time-critical
#define RULES_FROM_LOGS (-1)                   // of minutes: the median that the logs show
#define RULES_ENDLESS INT32_MAX                // of a wait

typedef struct {
    int32_t from, to; // minutes of the local day; to > from, and over 1440 if it ends next day
    bool day[7];      // weekdays on which it begins, 0 = Monday
} RulesHours;

typedef struct {
    char *name;
    RulesHours hours;
} RulesRoster;

typedef struct {
    char *name, *base; // base: a unit's code
    bool has_hours;    // else those of the roster
    RulesHours hours;
    uint8_t takes; // classes, as bits
} RulesTeam;

typedef struct {
    unsigned teams;        // the most teams that are tried; all numbers from 0 on are
    GPtrArray *bases;      // char *: the k-th team's base, round again; empty: see demand.h
    GPtrArray *rosters;    // RulesRoster *, each tried with each number of teams
    GPtrArray *named;      // RulesTeam *, if the file names teams; then teams = their number
    uint8_t takes;         // classes that a team takes unless it says otherwise
    int32_t mobilisation;  // minutes from being sent to setting out
    int32_t stabilisation; // minutes at the bedside, or RULES_FROM_LOGS
    int32_t handover;      // minutes at the receiving unit, or RULES_FROM_LOGS
    int32_t same_site;     // minutes to a patient in the team's own base
    int32_t typical;       // minutes of a journey of which nothing is known, or RULES_FROM_LOGS
    double speed;          // km/h where only the distance is known; NaN: what the logs show
    int32_t wait[RULES_CLASSES]; // minutes until the sending unit goes itself, or RULES_ENDLESS
    unsigned unknown_class;      // class of a request whose urgency is unknown
    Condition *offered;          // which requests are offered: those for which it isn't false
    char *offered_text;
    double worthwhile; // a team that adds less than this share of requests no longer pays
} Rules;

// Reads a key file as the manual describes it. path NULL: the defaults, that is 8 teams, based one
// by one at the sending units with most requests, round the clock and by day. Unknown sections and
// keys and bad values are errors that name them. Free with rules_free.
Rules *rules_load(const char *path, const Network *network, GError **error);
void rules_free(Rules *rules);

// "08:00-20:00 on Monday to Friday", "round the clock"; to be freed.
char *rules_hours_text(const RulesHours *hours);

#endif
