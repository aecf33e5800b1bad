// SPDX-License-Identifier: GPL-3.0-or-later
// How long it takes from one unit to another, from the journeys that the logs hold.
#ifndef CROSSWARD_REPLAY_TRAVEL_H
#define CROSSWARD_REPLAY_TRAVEL_H

#include "record/transfers.h"

typedef enum {
    TRAVEL_SAME_SITE, // within one unit
    TRAVEL_JOURNEYS,  // median of the known journeys of the pair, both ways together
    TRAVEL_DISTANCE,  // median of the known distances of the pair, at `speed`
    TRAVEL_TYPICAL,   // nothing is known of the pair: median of all known journeys
} TravelBasis;

typedef struct {
    int32_t minutes; // half a minute is rounded up
    TravelBasis basis;
    uint32_t journeys; // known journeys of the pair
    double km;         // median distance of the pair, NaN if unknown
} TravelLeg;

typedef struct Travel Travel;

typedef struct {
    int32_t same_site, typical; // minutes; typical -1: from the logs
    double speed;               // km/h; NaN: median over known journeys that have a distance
} TravelSettings;

// A known journey: departed_at to arrived_at in order, within the cap, not flown, both units known.
// Medians are of Hyndman & Fan definition 2. Error (usage) if a journey's typical time or the speed
// is needed and the logs don't show one. Free with travel_free.
Travel *travel_new(const Transfers *t, const Network *network, const TravelSettings *settings,
                   GError **error);
void travel_free(Travel *travel);

// Units are indexes into the transfers' units; 0 is an unknown one.
TravelLeg travel_leg(const Travel *travel, uint16_t from, uint16_t to);

double travel_speed(const Travel *travel);    // km/h that distances are driven at, NaN if none
int32_t travel_typical(const Travel *travel); // minutes

#endif
