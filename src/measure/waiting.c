// SPDX-License-Identifier: GPL-3.0-or-later
// Cumulative ends of requests by urgency, and the phases of the wait.
#include "measure/waiting.h"

#include "stats/incidence.h"
#include "stats/quantile.h"

#include <math.h>

enum { OPEN = 0 }; // else WaitingEnd + 1

static const FieldId stamps[WAITING_PHASES + 1] = {FIELD_requested_at,  FIELD_accepted_at,
                                                   FIELD_at_patient_at, FIELD_departed_at,
                                                   FIELD_arrived_at,    FIELD_handed_over_at};

const char *waiting_phase(unsigned phase) {
    static const char *const names[WAITING_PHASES] = {"to acceptance", "to the bedside",
                                                      "to departure", "journey", "to handover"};
    return names[phase];
}

const char *waiting_end(WaitingEnd end) {
    return field_code_text(field_table[FIELD_ended].codes, (uint8_t)(CODE_ended_DEPARTED + end));
}

typedef struct {
    const Transfers *t;
    const Network *network;
    const int32_t *received;
    uint16_t unit;
    const Period *span;
    double confidence;
} Wait;

// Minutes until the request ended and how; -1 if that can't be told.
static int32_t ending(const Wait *w, size_t i, unsigned *end) {
    const uint8_t ended = transfers_codes(w->t, FIELD_ended)[i];
    if (ended == CODE_ended_DEPARTED) {
        *end = WAITING_LEFT + 1;
        return transfers_minutes(w->t, i, FIELD_requested_at, FIELD_departed_at,
                                 network_cap(w->network, FIELD_requested_at, FIELD_departed_at));
    }
    if (ended != CODE_ended_UNKNOWN) {
        *end = ended == CODE_ended_STOOD_DOWN ? WAITING_STOOD_DOWN + 1 : WAITING_DIED + 1;
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

// The steps of each end, all at the same times.
typedef struct {
    IncidenceStep *of[WAITING_ENDS];
    size_t n;
} Curves;

static WaitingPoint point_at(const Curves *c, double minutes, double confidence) {
    WaitingPoint p = {.minutes = minutes, .open = 1};
    for (size_t i = 0; i < c->n && c->of[0][i].time <= minutes; i++)
        p.open = c->of[0][i].survival;
    for (size_t i = 0; i < c->n && p.at_risk == 0; i++)
        if (c->of[0][i].time >= minutes)
            p.at_risk = c->of[0][i].at_risk;
    for (unsigned e = 0; e < WAITING_ENDS; e++)
        p.end[e] = incidence_interval(c->of[e], c->n, minutes, confidence);
    return p;
}

double waiting_mark(unsigned k) {
    static const double minutes[WAITING_MARKS] = {15,  30,   60,   120,  240,
                                                  480, 1440, 2880, 5760, 10080};
    return minutes[k];
}

// Eight points a doubling from ten minutes on, and one at the longest time; then the marks.
static void add_points(WaitingGroup *g, const Curves *c, double confidence) {
    const double last = c->n ? c->of[0][c->n - 1].time : 0;
    WaitingPoint p;
    for (int k = 0; k <= 90 && 10 * exp2(k / 8.0) < last; k++) {
        p = point_at(c, 10 * exp2(k / 8.0), confidence);
        g_array_append_val(g->points, p);
    }
    p = point_at(c, last, confidence);
    g_array_append_val(g->points, p);
    for (unsigned k = 0; k < WAITING_MARKS; k++) {
        p = point_at(c, waiting_mark(k), confidence);
        g_array_append_val(g->marks, p);
    }
}

static void add_curves(WaitingGroup *g, const Wait *w, const GArray *times, const GArray *ends) {
    if (times->len == 0)
        return;
    Curves c = {.n = 0};
    bool good = true;
    for (unsigned e = 0; e < WAITING_ENDS; e++) {
        c.of[e] = g_new(IncidenceStep, times->len);
        good = good && incidence_curve((const double *)(const void *)times->data,
                                       (const unsigned *)(const void *)ends->data, times->len,
                                       e + 1, c.of[e], &c.n);
    }
    if (good)
        add_points(g, &c, w->confidence);
    for (unsigned e = 0; e < WAITING_ENDS; e++)
        g_free(c.of[e]);
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

static bool is_in(const Wait *w, size_t i, uint8_t urgency) {
    const int month = period_month(transfers_day(w->t, i, w->network));
    return transfers_codes(w->t, FIELD_urgency)[i] == urgency && month >= w->span->first &&
           month < w->span->end &&
           (!w->unit || transfers_units(w->t, FIELD_sending_unit)[i] == w->unit);
}

static WaitingGroup *group_of(const Wait *w, uint8_t urgency) {
    WaitingGroup *g = g_new0(WaitingGroup, 1);
    GArray *times = g_array_new(FALSE, FALSE, sizeof(double)),
           *ends = g_array_new(FALSE, FALSE, sizeof(unsigned)), *phase[WAITING_PHASES];
    g->urgency = urgency;
    g->points = g_array_new(FALSE, FALSE, sizeof(WaitingPoint));
    g->marks = g_array_new(FALSE, FALSE, sizeof(WaitingPoint));
    for (unsigned p = 0; p < WAITING_PHASES; p++)
        phase[p] = g_array_new(FALSE, FALSE, sizeof(double));
    for (size_t i = 0; i < w->t->n; i++) {
        if (!is_in(w, i, urgency))
            continue;
        unsigned end;
        const double minutes = ending(w, i, &end);
        if (minutes >= 0) {
            g_array_append_val(times, minutes);
            g_array_append_val(ends, end);
            ++*(end == OPEN ? &g->open : &g->ended[end - 1]);
        } else
            g->left_out++;
        if (transfers_codes(w->t, FIELD_departed)[i] == CODE_yes_no_YES)
            add_chain(w->t, i, phase);
    }
    g->requests = times->len;
    add_curves(g, w, times, ends);
    take_medians(g, phase);
    g_array_unref(times);
    g_array_unref(ends);
    return g;
}

static void free_group(gpointer data) {
    g_array_unref(((WaitingGroup *)data)->points);
    g_array_unref(((WaitingGroup *)data)->marks);
    g_free(data);
}

GPtrArray *waiting_groups(const Transfers *t, const Network *network, const int32_t *received,
                          uint16_t unit, const Period *span, double confidence) {
    const Wait w = {t, network, received, unit, span, confidence};
    GPtrArray *groups = g_ptr_array_new_with_free_func(free_group);
    for (int u = 1; u < CODE_urgency_END; u++)
        g_ptr_array_add(groups, group_of(&w, (uint8_t)u));
    return groups;
}
