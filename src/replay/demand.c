// SPDX-License-Identifier: GPL-3.0-or-later
// Requests, routes, bases and shifts of a replay.
#include "replay/demand.h"

#include "stats/quantile.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SPARE_DAYS = 8 };

typedef struct {
    int32_t at;
    uint32_t row;
    uint8_t class;
} Ask;

static int by_time(const void *a, const void *b) {
    const Ask *x = a, *y = b;
    if (x->at != y->at)
        return x->at < y->at ? -1 : 1;
    if (x->class != y->class)
        return x->class < y->class ? -1 : 1;
    return x->row < y->row ? -1 : x->row > y->row;
}

// ---- requests ----

static GArray *collect(Demand *d, const Transfers *t, const Network *n, const Rules *r,
                       int32_t first_day, int32_t end_day) {
    GArray *asks = g_array_new(FALSE, FALSE, sizeof(Ask));
    for (size_t i = 0; i < t->n; i++) {
        const int32_t day = transfers_day(t, i, n);
        const uint8_t urgency = transfers_codes(t, FIELD_urgency)[i];
        const Ask ask = {transfers_times(t, FIELD_requested_at)[i], (uint32_t)i,
                         (uint8_t)(urgency ? urgency - 1u : r->unknown_class)};
        if (first_day != WHEN_UNKNOWN && (day < first_day || day >= end_day))
            continue;
        if (condition_value(r->offered, t, i) == CONDITION_FALSE) {
            d->not_offered++;
            continue;
        }
        if (ask.at == WHEN_UNKNOWN) {
            d->undated++;
            continue;
        }
        d->urgency_unknown += urgency == 0;
        d->receiver_unknown += transfers_units(t, FIELD_receiving_unit)[i] == 0;
        g_array_append_val(asks, ask);
    }
    if (asks->len > 0)
        qsort(asks->data, asks->len, sizeof(Ask), by_time);
    return asks;
}

static uint32_t route_of(Demand *d, GHashTable *known, uint16_t from, uint16_t to, uint8_t class) {
    gpointer key = GSIZE_TO_POINTER((gsize) class << 32 | (gsize)from << 16 | to);
    gpointer found = g_hash_table_lookup(known, key);
    if (!found) {
        const DemandRoute route = {from, to, class};
        g_array_append_val(d->routes, route);
        found = GUINT_TO_POINTER(d->routes->len);
        g_hash_table_insert(known, key, found);
    }
    return GPOINTER_TO_UINT(found) - 1;
}

static void fill_requests(Demand *d, const Transfers *t, const GArray *asks) {
    GHashTable *known = g_hash_table_new(NULL, NULL);
    d->n = asks->len;
    d->request = g_new(EngineRequest, d->n + 1);
    d->row = g_new(uint32_t, d->n + 1);
    d->routes = g_array_new(FALSE, FALSE, sizeof(DemandRoute));
    for (size_t i = 0; i < d->n; i++) {
        const Ask *ask = &g_array_index(asks, Ask, i);
        d->row[i] = ask->row;
        d->request[i] = (EngineRequest){
            ask->at,
            route_of(d, known, transfers_units(t, FIELD_sending_unit)[ask->row],
                     transfers_units(t, FIELD_receiving_unit)[ask->row], ask->class),
            ask->class};
    }
    g_hash_table_unref(known);
}

// How long the sending unit's own people were away with each request's patient.
static void fill_own(Demand *d, const Transfers *t, const Network *n) {
    double sum = 0;
    size_t known = 0;
    d->own_minutes = g_new0(int32_t, d->n + 1);
    d->own = g_malloc0(d->n + 1);
    for (size_t i = 0; i < d->n; i++) {
        const uint32_t row = d->row[i];
        if (transfers_codes(t, FIELD_departed)[row] != CODE_yes_no_YES ||
            transfers_codes(t, FIELD_team)[row] != CODE_team_SENDING_UNIT)
            continue;
        const int32_t minutes =
            transfers_minutes(t, row, FIELD_team_ready_at, FIELD_returned_at, n->cap_away);
        d->own[i] = minutes < 0 ? DEMAND_OWN_UNKNOWN : DEMAND_OWN;
        d->own_minutes[i] = MAX(minutes, 0);
        if (minutes >= 0)
            sum += minutes / 60.0, known++;
        else
            d->own_unknown++;
    }
    d->mean_own_hours = known ? sum / (double)known : NAN;
}

// ---- teams and their times ----

static uint16_t unit_named(const Transfers *t, const char *code) {
    return (uint16_t)GPOINTER_TO_UINT(g_hash_table_lookup(t->unit_index, code));
}

typedef struct {
    const Transfers *t;
    const uint32_t *requests;
} Busy;

static int busiest(gconstpointer a, gconstpointer b, gpointer data) {
    const Busy *busy = data;
    const uint16_t x = *(const uint16_t *)a, y = *(const uint16_t *)b;
    if (busy->requests[x] != busy->requests[y])
        return busy->requests[x] > busy->requests[y] ? -1 : 1;
    return strcmp(busy->t->units->pdata[x], busy->t->units->pdata[y]);
}

// Sending units of the requests, the one with most first.
static GArray *busiest_units(const Demand *d, const Transfers *t) {
    GArray *units = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    uint32_t *requests = g_new0(uint32_t, t->units->len);
    for (size_t i = 0; i < d->n; i++) {
        const uint16_t unit = g_array_index(d->routes, DemandRoute, d->request[i].route).from;
        if (requests[unit]++ == 0)
            g_array_append_val(units, unit);
    }
    Busy busy = {t, requests};
    g_array_sort_with_data(units, busiest, &busy);
    g_free(requests);
    return units;
}

static bool find_bases(Demand *d, const Transfers *t, const Rules *r, GError **error) {
    GArray *own = busiest_units(d, t);
    bool good = true;
    d->teams = r->teams;
    d->base = g_new0(uint16_t, d->teams + 1);
    for (unsigned k = 0; k < d->teams && good; k++) {
        const char *name = r->named->len       ? ((RulesTeam *)r->named->pdata[k])->base
                           : r->bases->len > 0 ? r->bases->pdata[k % r->bases->len]
                                               : NULL;
        if (!name) {
            d->base[k] = own->len ? g_array_index(own, uint16_t, k % own->len) : 0;
            continue;
        }
        d->base[k] = unit_named(t, name);
        good = d->base[k] != 0;
        if (!good)
            g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE,
                        "the rules put a team at '%s', which no log names", name);
    }
    g_array_unref(own);
    return good;
}

// Median minutes between two stamps over all records (over those of a class), half a minute rounded
// up; -1 if none has both.
enum { ANY_CLASS = RULES_CLASSES };
static int32_t median_minutes(const Transfers *t, const Network *n, const Rules *r, FieldId from,
                              FieldId to, unsigned class) {
    GArray *values = g_array_new(FALSE, FALSE, sizeof(double));
    for (size_t i = 0; i < t->n; i++) {
        const uint8_t urgency = transfers_codes(t, FIELD_urgency)[i];
        const double value = transfers_minutes(t, i, from, to, network_cap(n, from, to));
        if (value >= 0 &&
            (class == ANY_CLASS || class == (urgency ? urgency - 1u : r->unknown_class)))
            g_array_append_val(values, value);
    }
    int32_t median = -1;
    if (values->len > 0) {
        quantile_sort((double *)(void *)values->data, values->len);
        median = (int32_t)floor(
            quantile_hf2((const double *)(void *)values->data, values->len, 0.5) + 0.5);
    }
    g_array_unref(values);
    return median;
}

static bool find_times(Demand *d, const Transfers *t, const Network *n, const Rules *r,
                       GError **error) {
    const FieldId from = FIELD_at_patient_at, to = FIELD_departed_at;
    const char *missing = NULL;
    for (unsigned c = 0; c < RULES_CLASSES; c++) {
        int32_t minutes = r->stabilisation;
        if (minutes == RULES_FROM_LOGS)
            minutes = median_minutes(t, n, r, from, to, c);
        if (minutes < 0)
            minutes = median_minutes(t, n, r, from, to, ANY_CLASS);
        d->stabilisation[c] = minutes;
        missing = minutes < 0 ? "stabilisation" : missing;
    }
    d->handover = r->handover;
    if (d->handover == RULES_FROM_LOGS)
        d->handover = median_minutes(t, n, r, FIELD_arrived_at, FIELD_handed_over_at, ANY_CLASS);
    missing = !missing && d->handover < 0 ? "handover" : missing;
    if (missing)
        g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE,
                    "no log shows how many minutes %s takes: write them in the rules (replay.ini), "
                    "as %s = 30 under [rules]",
                    missing, missing);
    const TravelSettings s = {r->same_site, r->typical, r->speed};
    return !missing && (d->travel = travel_new(t, n, &s, error));
}

// Times of every team on every route, and the teams from the nearest to the farthest.
static void fill_tables(Demand *d, const Rules *r) {
    const size_t cells = (size_t)d->routes->len * d->teams + 1;
    d->reach = g_new(int32_t, cells);
    d->busy = g_new(int32_t, cells);
    d->order = g_malloc(cells);
    for (guint i = 0; i < d->routes->len; i++) {
        const DemandRoute *route = &g_array_index(d->routes, DemandRoute, i);
        const size_t row = (size_t)i * d->teams;
        const int32_t loaded = travel_leg(d->travel, route->from, route->to).minutes;
        for (unsigned k = 0; k < d->teams; k++) {
            d->reach[row + k] =
                r->mobilisation + travel_leg(d->travel, d->base[k], route->from).minutes;
            d->busy[row + k] = d->reach[row + k] + d->stabilisation[route->class] + loaded +
                               d->handover + travel_leg(d->travel, route->to, d->base[k]).minutes;
            unsigned place = k;
            for (; place > 0 && d->reach[row + d->order[row + place - 1]] > d->reach[row + k];
                 place--)
                d->order[row + place] = d->order[row + place - 1];
            d->order[row + place] = (uint8_t)k;
        }
    }
}

Demand *demand_new(const Transfers *t, const Network *network, const Rules *rules,
                   int32_t first_day, int32_t end_day, GError **error) {
    Demand *d = g_new0(Demand, 1);
    GArray *asks = collect(d, t, network, rules, first_day, end_day);
    fill_requests(d, t, asks);
    fill_own(d, t, network);
    g_array_unref(asks);
    if (d->n > 0) {
        d->first_day = when_day_of(when_to_local(network->zone, d->request[0].at));
        d->last_day = when_day_of(when_to_local(network->zone, d->request[d->n - 1].at));
    } else {
        g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE,
                    "no request with a time is left to replay");
    }
    if (d->n == 0 || !find_bases(d, t, rules, error) || !find_times(d, t, network, rules, error)) {
        demand_free(d);
        return NULL;
    }
    fill_tables(d, rules);
    return d;
}

void demand_free(Demand *d) {
    if (!d)
        return;
    g_free(d->request);
    g_free(d->row);
    g_free(d->own_minutes);
    g_free(d->own);
    g_array_unref(d->routes);
    g_free(d->base);
    g_free(d->reach);
    g_free(d->busy);
    g_free(d->order);
    travel_free(d->travel);
    g_free(d);
}

// ---- shifts ----

typedef struct {
    int32_t at;
    uint8_t team;
    int8_t step; // +1 goes on duty, -1 off
} Change;

static int by_instant(const void *a, const void *b) {
    const Change *x = a, *y = b;
    if (x->at != y->at)
        return x->at < y->at ? -1 : 1;
    return x->team != y->team ? x->team - y->team : x->step - y->step;
}

static int32_t instant(const Network *n, int32_t first_day, int32_t local) {
    int32_t utc = 0, second;
    if (!n)
        return local - first_day * WHEN_DAY;
    if (when_to_utc(n->zone, local, &utc, &second) == WHEN_SKIPPED)
        when_to_utc(n->zone, local + 60, &utc, &second);
    return utc;
}

static const RulesHours *hours_of(const Rules *r, const RulesRoster *roster, unsigned team) {
    const RulesTeam *named = team < r->named->len ? r->named->pdata[team] : NULL;
    return named && named->has_hours ? &named->hours : &roster->hours;
}

GArray *demand_shifts(const Rules *r, const RulesRoster *roster, unsigned teams, int32_t first_day,
                      int32_t last_day, const Network *network) {
    GArray *changes = g_array_new(FALSE, FALSE, sizeof(Change));
    GArray *shifts = g_array_new(FALSE, FALSE, sizeof(EngineShift));
    for (int32_t day = first_day - SPARE_DAYS; day <= last_day + SPARE_DAYS; day++)
        for (unsigned k = 0; k < teams; k++) {
            const RulesHours *h = hours_of(r, roster, k);
            const Change on = {instant(network, first_day, day * WHEN_DAY + h->from), (uint8_t)k,
                               1},
                         off = {instant(network, first_day, day * WHEN_DAY + h->to), (uint8_t)k,
                                -1};
            if (h->day[when_weekday(day)]) {
                g_array_append_val(changes, on);
                g_array_append_val(changes, off);
            }
        }
    if (changes->len > 0)
        qsort(changes->data, changes->len, sizeof(Change), by_instant);
    int on_duty[ENGINE_MOST_TEAMS] = {0};
    uint64_t mask = 0;
    for (guint i = 0; i < changes->len; i++) {
        const Change *c = &g_array_index(changes, Change, i);
        on_duty[c->team] += c->step;
        mask =
            on_duty[c->team] > 0 ? mask | UINT64_C(1) << c->team : mask & ~(UINT64_C(1) << c->team);
        const EngineShift shift = {c->at, mask};
        const bool last =
            i + 1 == changes->len || (&g_array_index(changes, Change, i))[1].at > c->at;
        if (last &&
            (shifts->len == 0 || g_array_index(shifts, EngineShift, shifts->len - 1).on != mask))
            g_array_append_val(shifts, shift);
    }
    g_array_unref(changes);
    return shifts;
}
