// SPDX-License-Identifier: GPL-3.0-or-later
// Medians of journeys and distances by pair of units.
#include "replay/travel.h"

#include "stats/quantile.h"

#include <math.h>

typedef struct {
    GArray *minutes, *km; // double
} Pair;

struct Travel {
    GHashTable *legs; // pair of units -> TravelLeg *
    TravelSettings settings;
};

static gpointer key_of(uint16_t a, uint16_t b) {
    const uint16_t low = MIN(a, b), high = MAX(a, b);
    return GUINT_TO_POINTER((guint)high << 16 | low);
}

static void pair_free(gpointer data) {
    Pair *p = data;
    g_array_unref(p->minutes);
    g_array_unref(p->km);
    g_free(p);
}

static Pair *pair_of(GHashTable *pairs, gpointer key) {
    Pair *p = g_hash_table_lookup(pairs, key);
    if (!p) {
        p = g_new(Pair, 1);
        p->minutes = g_array_new(FALSE, FALSE, sizeof(double));
        p->km = g_array_new(FALSE, FALSE, sizeof(double));
        g_hash_table_insert(pairs, key, p);
    }
    return p;
}

static double median(GArray *values) {
    if (values->len == 0)
        return NAN;
    quantile_sort((double *)(void *)values->data, values->len);
    return quantile_hf2((const double *)(void *)values->data, values->len, 0.5);
}

static int32_t whole(double minutes) {
    return (int32_t)floor(minutes + 0.5);
}

static bool flown(uint8_t vehicle) {
    return vehicle == CODE_vehicle_HELICOPTER || vehicle == CODE_vehicle_FIXED_WING;
}

// Sorts every known journey, distance and speed to its pair.
static void collect(const Transfers *t, const Network *n, GHashTable *pairs, Pair *all,
                    GArray *speeds) {
    const int32_t cap = network_cap(n, FIELD_departed_at, FIELD_arrived_at);
    for (size_t i = 0; i < t->n; i++) {
        const uint16_t from = transfers_units(t, FIELD_sending_unit)[i],
                       to = transfers_units(t, FIELD_receiving_unit)[i];
        if (from == 0 || to == 0)
            continue;
        Pair *p = pair_of(pairs, key_of(from, to));
        const double km = ((const double *)t->column[FIELD_distance_km])[i];
        const int32_t known = transfers_minutes(t, i, FIELD_departed_at, FIELD_arrived_at, cap);
        const double minutes = flown(transfers_codes(t, FIELD_vehicle)[i]) ? -1 : known;
        if (!isnan(km))
            g_array_append_val(p->km, km);
        if (minutes < 0)
            continue;
        g_array_append_val(p->minutes, minutes);
        g_array_append_val(all->minutes, minutes);
        const double speed = km / (minutes / 60);
        if (!isnan(km) && minutes > 0 && km > 0)
            g_array_append_val(speeds, speed);
    }
}

static TravelLeg *make_leg(Pair *p, const TravelSettings *s) {
    TravelLeg *leg = g_new(TravelLeg, 1);
    leg->journeys = p->minutes->len;
    leg->km = median(p->km);
    leg->minutes = s->typical;
    leg->basis = TRAVEL_TYPICAL;
    if (leg->journeys > 0) {
        leg->minutes = whole(median(p->minutes));
        leg->basis = TRAVEL_JOURNEYS;
    } else if (!isnan(leg->km) && s->speed > 0) {
        leg->minutes = whole(leg->km / s->speed * 60);
        leg->basis = TRAVEL_DISTANCE;
    }
    return leg;
}

Travel *travel_new(const Transfers *t, const Network *network, const TravelSettings *settings,
                   GError **error) {
    Travel *travel = g_new0(Travel, 1);
    travel->settings = *settings;
    travel->legs = g_hash_table_new_full(NULL, NULL, NULL, g_free);
    GHashTable *pairs = g_hash_table_new_full(NULL, NULL, NULL, pair_free);
    GHashTable *everything = g_hash_table_new_full(NULL, NULL, NULL, pair_free);
    Pair *all = pair_of(everything, NULL);
    GArray *speeds = g_array_new(FALSE, FALSE, sizeof(double));
    collect(t, network, pairs, all, speeds);
    TravelSettings *s = &travel->settings;
    if (isnan(s->speed))
        s->speed = median(speeds);
    const double typical = median(all->minutes);
    if (s->typical < 0 && !isnan(typical))
        s->typical = whole(typical);
    GHashTableIter iter;
    gpointer key, pair;
    g_hash_table_iter_init(&iter, pairs);
    while (g_hash_table_iter_next(&iter, &key, &pair))
        g_hash_table_insert(travel->legs, key, make_leg(pair, s));
    g_hash_table_unref(pairs);
    g_hash_table_unref(everything);
    g_array_unref(speeds);
    if (s->typical >= 0)
        return travel;
    g_set_error(
        error, NETWORK_ERROR, NETWORK_ERROR_USAGE,
        "the logs hold no journey with both times; give [rules] typical_journey in minutes");
    travel_free(travel);
    return NULL;
}

void travel_free(Travel *travel) {
    if (!travel)
        return;
    g_hash_table_unref(travel->legs);
    g_free(travel);
}

TravelLeg travel_leg(const Travel *travel, uint16_t from, uint16_t to) {
    if (from == to && from != 0)
        return (TravelLeg){travel->settings.same_site, TRAVEL_SAME_SITE, 0, 0};
    const TravelLeg *leg = g_hash_table_lookup(travel->legs, key_of(from, to));
    return leg ? *leg : (TravelLeg){travel->settings.typical, TRAVEL_TYPICAL, 0, NAN};
}

double travel_speed(const Travel *travel) {
    return travel->settings.speed;
}

int32_t travel_typical(const Travel *travel) {
    return travel->settings.typical;
}
