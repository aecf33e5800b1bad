// SPDX-License-Identifier: GPL-3.0-or-later
// Cumulative ends of requests by urgency, and the phases of the wait.
#include "measure/waiting.h"

#include "stats/incidence.h"
#include "stats/order.h"
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

// Minutes of the records of one urgency, by the end of the request, and by phase of the chain.
typedef struct {
    GArray *end[WAITING_ENDS + 1], *phase[WAITING_PHASES]; // uint32_t
} Lists;

static void lists_new(Lists *l) {
    for (unsigned e = 0; e <= WAITING_ENDS; e++)
        l->end[e] = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    for (unsigned p = 0; p < WAITING_PHASES; p++)
        l->phase[p] = g_array_new(FALSE, FALSE, sizeof(uint32_t));
}

static void lists_clear(Lists *l) {
    for (unsigned e = 0; e <= WAITING_ENDS; e++)
        g_array_unref(l->end[e]);
    for (unsigned p = 0; p < WAITING_PHASES; p++)
        g_array_unref(l->phase[p]);
}

static const uint32_t *sorted(GArray *minutes) {
    uint32_t *values = (uint32_t *)(void *)minutes->data;
    if (!order_sort_whole(values, minutes->len))
        g_error("out of memory");
    return values;
}

// The different times of all ends together, and how many came to each end at each: *time and *n,
// to be freed.
static IncidenceCounts counts_of(const Lists *l, double **time, double **n) {
    const uint32_t *minutes[WAITING_ENDS + 1];
    guint at[WAITING_ENDS + 1] = {0}, most = 0;
    size_t k = 0;
    for (unsigned e = 0; e <= WAITING_ENDS; e++) {
        minutes[e] = sorted(l->end[e]);
        for (guint i = 0; i < l->end[e]->len; i++)
            most += i == 0 || minutes[e][i] != minutes[e][i - 1];
    }
    *time = g_new(double, most + 1);
    *n = g_new0(double, ((size_t)most + 1) * (WAITING_ENDS + 1));
    for (;; k++) {
        uint32_t next = UINT32_MAX; // minutes are below it
        for (unsigned e = 0; e <= WAITING_ENDS; e++)
            if (at[e] < l->end[e]->len)
                next = MIN(next, minutes[e][at[e]]);
        if (next == UINT32_MAX)
            break;
        (*time)[k] = next;
        for (unsigned e = 0; e <= WAITING_ENDS; e++)
            for (; at[e] < l->end[e]->len && minutes[e][at[e]] == next; at[e]++)
                (*n)[k * (WAITING_ENDS + 1) + e]++;
    }
    return (IncidenceCounts){k, WAITING_ENDS, *time, *n};
}

static void add_curves(WaitingGroup *g, const Lists *l, double confidence) {
    if (g->requests == 0)
        return;
    double *time, *n;
    const IncidenceCounts counts = counts_of(l, &time, &n);
    Curves c = {.n = counts.k};
    for (unsigned e = 0; e < WAITING_ENDS; e++) {
        c.of[e] = g_new(IncidenceStep, counts.k);
        incidence_of_counts(&counts, e + 1, c.of[e]);
    }
    add_points(g, &c, confidence);
    for (unsigned e = 0; e < WAITING_ENDS; e++)
        g_free(c.of[e]);
    g_free(time);
    g_free(n);
}

// Adds the phases of a complete chain.
static void add_chain(const Transfers *t, size_t i, Lists *l) {
    uint32_t minutes[WAITING_PHASES];
    for (unsigned p = 0; p < WAITING_PHASES; p++) {
        const int32_t from = transfers_times(t, stamps[p])[i],
                      to = transfers_times(t, stamps[p + 1])[i];
        if (from == WHEN_UNKNOWN || to == WHEN_UNKNOWN || to < from)
            return;
        minutes[p] = (uint32_t)to - (uint32_t)from;
    }
    for (unsigned p = 0; p < WAITING_PHASES; p++)
        g_array_append_val(l->phase[p], minutes[p]);
}

static void take_medians(WaitingGroup *g, const Lists *l) {
    g->chains = l->phase[0]->len;
    double *room = g_new(double, 2 * g->chains + 1);
    for (unsigned p = 0; p < WAITING_PHASES; p++) {
        const uint32_t *minutes = sorted(l->phase[p]);
        g->median[p] = quantile_of_runs(runs_of_whole(minutes, g->chains, room), 0.5);
    }
    g_free(room);
}

static void add_record(const Wait *w, size_t i, WaitingGroup *g, Lists *l) {
    unsigned end;
    const int32_t minutes = ending(w, i, &end);
    if (minutes >= 0) {
        const uint32_t value = (uint32_t)minutes;
        g_array_append_val(l->end[end], value);
        ++*(end == OPEN ? &g->open : &g->ended[end - 1]);
        g->requests++;
    } else
        g->left_out++;
    if (transfers_codes(w->t, FIELD_departed)[i] == CODE_yes_no_YES)
        add_chain(w->t, i, l);
}

static void add_records(const Wait *w, const GPtrArray *groups, Lists *lists) {
    const uint8_t *urgency = transfers_codes(w->t, FIELD_urgency);
    const uint16_t *unit = transfers_units(w->t, FIELD_sending_unit);
    const int32_t first = period_first_day(w->span->first), end = period_first_day(w->span->end);
    for (size_t i = 0; i < w->t->n; i++) {
        if (urgency[i] == 0 || (w->unit && unit[i] != w->unit))
            continue;
        const int32_t day = transfers_day(w->t, i, w->network);
        if (day >= first && day < end)
            add_record(w, i, groups->pdata[urgency[i] - 1], &lists[urgency[i] - 1]);
    }
}

static void free_group(gpointer data) {
    g_array_unref(((WaitingGroup *)data)->points);
    g_array_unref(((WaitingGroup *)data)->marks);
    g_free(data);
}

GPtrArray *waiting_groups(const Transfers *t, const Network *network, const int32_t *received,
                          uint16_t unit, const Period *span, double confidence) {
    const Wait w = {t, network, received, unit, span};
    GPtrArray *groups = g_ptr_array_new_with_free_func(free_group);
    Lists lists[CODE_urgency_END - 1];
    for (unsigned u = 0; u < CODE_urgency_END - 1; u++) {
        WaitingGroup *g = g_new0(WaitingGroup, 1);
        g->urgency = (uint8_t)(u + 1);
        g->points = g_array_new(FALSE, FALSE, sizeof(WaitingPoint));
        g->marks = g_array_new(FALSE, FALSE, sizeof(WaitingPoint));
        g_ptr_array_add(groups, g);
        lists_new(&lists[u]);
    }
    add_records(&w, groups, lists);
    for (unsigned u = 0; u < CODE_urgency_END - 1; u++) {
        add_curves(groups->pdata[u], &lists[u], confidence);
        take_medians(groups->pdata[u], &lists[u]);
        lists_clear(&lists[u]);
    }
    return groups;
}
