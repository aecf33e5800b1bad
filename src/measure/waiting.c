// SPDX-License-Identifier: GPL-3.0-or-later
// Cumulative departures by urgency, and the phases of the wait.
#include "measure/waiting.h"

#include "stats/incidence.h"
#include "stats/quantile.h"

#include <math.h>

enum { OPEN = 0, LEFT = 1, NEVER_LEFT = 2 };

static const FieldId stamps[WAITING_PHASES + 1] = {FIELD_requested_at,  FIELD_accepted_at,
                                                   FIELD_at_patient_at, FIELD_departed_at,
                                                   FIELD_arrived_at,    FIELD_handed_over_at};

const char *waiting_phase(unsigned phase) {
    static const char *const names[WAITING_PHASES] = {"to acceptance", "to the bedside",
                                                      "to departure", "journey", "to handover"};
    return names[phase];
}

typedef struct {
    const Transfers *t;
    const Network *network;
    const int32_t *received;
    uint16_t unit;
    double confidence;
} Wait;

// Minutes until the request ended and how; -1 if that can't be told.
static int32_t ending(const Wait *w, size_t i, unsigned *end) {
    const uint8_t ended = transfers_codes(w->t, FIELD_ended)[i];
    if (ended == CODE_ended_DEPARTED) {
        *end = LEFT;
        return transfers_minutes(w->t, i, FIELD_requested_at, FIELD_departed_at,
                                 network_cap(w->network, FIELD_requested_at, FIELD_departed_at));
    }
    if (ended != CODE_ended_UNKNOWN) {
        *end = NEVER_LEFT;
        return transfers_minutes(w->t, i, FIELD_requested_at, FIELD_ended_at, INT32_MAX);
    }
    const int32_t asked = transfers_times(w->t, FIELD_requested_at)[i],
                  day = w->received ? w->received[w->t->file[i]] : WHEN_UNKNOWN;
    *end = OPEN;
    if (asked == WHEN_UNKNOWN || day == WHEN_UNKNOWN ||
        transfers_codes(w->t, FIELD_outcome)[i] != CODE_outcome_UNKNOWN ||
        transfers_times(w->t, FIELD_departed_at)[i] != WHEN_UNKNOWN)
        return -1;
    const int64_t until = (int64_t)day * WHEN_DAY - asked;
    return until >= 0 && until <= INT32_MAX ? (int32_t)until : -1;
}

static double at_risk(const IncidenceStep *steps, size_t n, double minutes) {
    for (size_t i = 0; i < n; i++)
        if (steps[i].time >= minutes)
            return steps[i].at_risk;
    return 0;
}

static void add_points(WaitingGroup *g, const IncidenceStep *steps, size_t n, double confidence) {
    const double last = n ? steps[n - 1].time : 0;
    for (int k = 0; k <= 90; k++) {
        const double minutes = 10 * exp2(k / 8.0);
        const bool beyond = minutes > last;
        WaitingPoint p = {beyond ? last : minutes, {NAN, NAN, NAN}, 0};
        p.left = incidence_interval(steps, n, p.minutes, confidence);
        p.at_risk = at_risk(steps, n, p.minutes);
        g_array_append_val(g->points, p);
        if (beyond)
            break;
    }
}

static void add_curve(WaitingGroup *g, const Wait *w, const GArray *times, const GArray *ends) {
    if (times->len == 0)
        return;
    IncidenceStep *steps = g_new(IncidenceStep, times->len);
    size_t n = 0;
    if (incidence_curve((const double *)(const void *)times->data,
                        (const unsigned *)(const void *)ends->data, times->len, LEFT, steps, &n))
        add_points(g, steps, n, w->confidence);
    g_free(steps);
}

// Adds the phases of a complete chain.
static void add_chain(const Transfers *t, size_t i, GArray *phase[WAITING_PHASES]) {
    double minutes[WAITING_PHASES];
    for (unsigned p = 0; p < WAITING_PHASES; p++) {
        const int32_t from = transfers_times(t, stamps[p])[i],
                      to = transfers_times(t, stamps[p + 1])[i];
        if (from == WHEN_UNKNOWN || to == WHEN_UNKNOWN || to < from)
            return;
        minutes[p] = to - from;
    }
    for (unsigned p = 0; p < WAITING_PHASES; p++)
        g_array_append_val(phase[p], minutes[p]);
}

static void take_medians(WaitingGroup *g, GArray *phase[WAITING_PHASES]) {
    g->chains = phase[0]->len;
    for (unsigned p = 0; p < WAITING_PHASES; p++) {
        double *minutes = (double *)(void *)phase[p]->data;
        quantile_sort(minutes, phase[p]->len);
        g->median[p] = quantile_hf2(minutes, phase[p]->len, 0.5);
        g_array_unref(phase[p]);
    }
}

static WaitingGroup *group_of(const Wait *w, uint8_t urgency) {
    WaitingGroup *g = g_new0(WaitingGroup, 1);
    GArray *times = g_array_new(FALSE, FALSE, sizeof(double)),
           *ends = g_array_new(FALSE, FALSE, sizeof(unsigned)), *phase[WAITING_PHASES];
    g->urgency = urgency;
    g->points = g_array_new(FALSE, FALSE, sizeof(WaitingPoint));
    for (unsigned p = 0; p < WAITING_PHASES; p++)
        phase[p] = g_array_new(FALSE, FALSE, sizeof(double));
    for (size_t i = 0; i < w->t->n; i++) {
        if (transfers_codes(w->t, FIELD_urgency)[i] != urgency ||
            (w->unit && transfers_units(w->t, FIELD_sending_unit)[i] != w->unit))
            continue;
        unsigned end;
        const double minutes = ending(w, i, &end);
        if (minutes >= 0) {
            g_array_append_val(times, minutes);
            g_array_append_val(ends, end);
            g->open += end == OPEN;
        } else
            g->left_out++;
        if (transfers_codes(w->t, FIELD_departed)[i] == CODE_yes_no_YES)
            add_chain(w->t, i, phase);
    }
    g->requests = times->len;
    add_curve(g, w, times, ends);
    take_medians(g, phase);
    g_array_unref(times);
    g_array_unref(ends);
    return g;
}

static void free_group(gpointer data) {
    g_array_unref(((WaitingGroup *)data)->points);
    g_free(data);
}

GPtrArray *waiting_groups(const Transfers *t, const Network *network, const int32_t *received,
                          uint16_t unit, double confidence) {
    const Wait w = {t, network, received, unit, confidence};
    GPtrArray *groups = g_ptr_array_new_with_free_func(free_group);
    for (int u = 1; u < CODE_urgency_END; u++)
        g_ptr_array_add(groups, group_of(&w, (uint8_t)u));
    return groups;
}
