// SPDX-License-Identifier: GPL-3.0-or-later
// The network folder: time zone, audit year, working day, targets, caps, units.
#ifndef CROSSWARD_RECORD_NETWORK_H
#define CROSSWARD_RECORD_NETWORK_H

#include "record/field.h"
#include "record/when.h"

typedef enum { NETWORK_ERROR_USAGE } NetworkError;
#define NETWORK_ERROR network_error_quark()
GQuark network_error_quark(void);

typedef struct {
    char *dir;    // folder it was read from, or NULL
    char *name;   // of the network
    char *notice; // what every page of a report says, or NULL
    char *timezone;
    WhenZone *zone;
    int year_starts;                  // month 1..12
    int day_starts, day_ends;         // minutes of the local day; hours outside are out of hours
    bool weekend[7];                  // by weekday, 0 = Monday
    GArray *holidays;                 // int32_t days, rising
    bool shared_ids;                  // pseudonyms are unique over the network
    int join_window;                  // minutes
    char *include;                    // condition, or NULL
    int32_t target[CODE_urgency_END]; // minutes by urgency, -1 = none
    char *target_source;              // clause, or NULL
    int32_t cap_wait, cap_journey, cap_handover, cap_away; // minutes, INT32_MAX = none
    double weekly_hours;                                   // [base]: of one whole-time person
    GKeyFile *keys;    // all of network.ini, for the [log ...] sections
    GHashTable *units; // code -> name, of units.csv; NULL if there is none
} Network;

// Reads DIR/network.ini and units.csv; dir NULL gives the defaults. Unknown keys and bad values are
// errors that name them; what is there and can't be read is a G_FILE_ERROR other than _INVAL.
Network *network_load(const char *dir, GError **error);
void network_free(Network *network);

// Adds what is in effect of all sections but [log ...], set or not: key, value, ..., both to be
// freed; "" where nothing is set. A key of [network] bears its own name, others SECTION.KEY.
void network_settings(const Network *network, GPtrArray *pairs);

// Longest believable minutes from one stamp to another; INT32_MAX if none is set.
int32_t network_cap(const Network *network, FieldId from, FieldId to);

// Name of a unit for people: of units.csv, else its code. Belongs to the arguments.
const char *network_unit_name(const Network *network, const char *code);

bool network_is_holiday(const Network *network, int32_t day);

#endif
