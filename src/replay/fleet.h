// SPDX-License-Identifier: GPL-3.0-or-later
// The teams of a scenario as the event loop takes them, and when they are on duty.
#ifndef CROSSWARD_REPLAY_FLEET_H
#define CROSSWARD_REPLAY_FLEET_H

#include "replay/trial.h"

// Shifts of each roster, GArray of EngineShift, as demand_shifts makes them with this network, from
// the first day of the trial's (r) demand to last_day. Free with fleet_free_shifts.
GArray **fleet_shifts(const Trial *r, const Network *network, int32_t last_day);
void fleet_free_shifts(const Trial *r, GArray **shifts);

// The first `teams` teams with these shifts, both borrowed.
EngineFleet fleet_make(const Trial *r, unsigned teams, const GArray *shifts);

// Minutes on duty of the first `teams` teams, added up, from one instant to another.
double fleet_minutes_on_duty(const GArray *shifts, unsigned teams, int32_t from, int32_t to);

#endif
