// SPDX-License-Identifier: GPL-3.0-or-later
// Teams, what they take, and their shifts.
#include "replay/fleet.h"

EngineFleet fleet_make(const Trial *r, unsigned teams, const GArray *shifts) {
    const Demand *d = r->demand;
    EngineFleet f = {.teams = teams,
                     .stride = d->teams,
                     .busy = d->busy,
                     .order = d->order,
                     .shift = (const EngineShift *)(void *)shifts->data,
                     .shifts = shifts->len};
    for (int c = 0; c < RULES_CLASSES; c++) {
        f.longest_wait[c] = r->rules->wait[c];
        for (unsigned k = 0; k < teams; k++) {
            const RulesTeam *named = r->rules->named->len ? r->rules->named->pdata[k] : NULL;
            const uint8_t takes = named ? named->takes : r->rules->takes;
            f.takes[c] |= (uint64_t)(takes >> c & 1) << k;
        }
    }
    return f;
}

double fleet_minutes_on_duty(const GArray *shifts, unsigned teams, int32_t from, int32_t to) {
    const uint64_t mask = teams ? UINT64_MAX >> (64 - teams) : 0;
    double sum = 0;
    for (guint i = 0; i < shifts->len; i++) {
        const EngineShift *s = &g_array_index(shifts, EngineShift, i);
        const int32_t a = MAX(s->at, from), b = i + 1 < shifts->len ? MIN(s[1].at, to) : to;
        if (b > a)
            sum += (double)(b - a) * __builtin_popcountll(s->on & mask);
    }
    return sum;
}

GArray **fleet_shifts(const Trial *r, const Network *network, int32_t last_day) {
    GArray **shifts = g_new0(GArray *, r->rules->rosters->len + 1);
    for (guint i = 0; i < r->rules->rosters->len; i++)
        shifts[i] = demand_shifts(r->rules, r->rules->rosters->pdata[i], r->demand->teams,
                                  r->demand->first_day, last_day, network);
    return shifts;
}

void fleet_free_shifts(const Trial *r, GArray **shifts) {
    for (guint i = 0; i < r->rules->rosters->len; i++)
        g_array_unref(shifts[i]);
    g_free(shifts);
}
