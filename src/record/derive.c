// SPDX-License-Identifier: GPL-3.0-or-later
// Derived fields: what follows from a record's own values, unknown kept apart from no.
#include "record/derive.h"

#include "base/parallel.h"

enum { YES = CODE_yes_no_YES, NO = CODE_yes_no_NO };

static uint8_t yes_no(bool yes) {
    return yes ? YES : NO;
}

static uint8_t ended(int32_t departed_at, uint8_t outcome) {
    const bool left = outcome >= CODE_outcome_COMPLETED && outcome <= CODE_outcome_DIED_IN_TRANSIT;
    if (outcome != 0 && !left) {
        if (departed_at != WHEN_UNKNOWN)
            return 0; // a departure and an outcome that did not depart contradict each other
        return outcome == CODE_outcome_STOOD_DOWN ? CODE_ended_STOOD_DOWN
                                                  : CODE_ended_DIED_BEFORE_DEPARTURE;
    }
    return departed_at != WHEN_UNKNOWN || left ? CODE_ended_DEPARTED : 0;
}

static uint8_t reason_group(uint8_t reason) {
    if (reason == 0)
        return 0;
    if (reason <= CODE_reason_OTHER_CLINICAL)
        return CODE_reason_group_CLINICAL;
    return reason == CODE_reason_REPATRIATION ? CODE_reason_group_REPATRIATION
                                              : CODE_reason_group_NON_CLINICAL;
}

static uint8_t out_of_hours(const Network *n, int32_t utc) {
    if (utc == WHEN_UNKNOWN)
        return 0;
    const int32_t local = when_to_local(n->zone, utc), day = when_day_of(local),
                  minute = local - day * WHEN_DAY;
    return yes_no(n->weekend[when_weekday(day)] || network_is_holiday(n, day) ||
                  minute < n->day_starts || minute >= n->day_ends);
}

typedef struct {
    uint8_t adverse, near_miss, harmed, worst;
} EventFacts;

static EventFacts event_facts(const Transfers *t, size_t row) {
    EventFacts facts = {0};
    if (((const uint32_t *)t->column[FIELD_events])[row] == 0)
        return facts;
    size_t n, adverse = 0, near = 0, ungraded = 0, grave = 0;
    unsigned greatest = 0;
    const Event *events = transfers_events_of(t, row, &n);
    for (size_t i = 0; i < n; i++) {
        if (events[i].harm == CODE_harm_NEAR_MISS) {
            near++;
            continue;
        }
        adverse++;
        ungraded += events[i].harm == 0;
        grave += events[i].harm >= CODE_harm_MODERATE;
        greatest = MAX(greatest, events[i].harm);
    }
    facts.adverse = yes_no(adverse > 0);
    facts.near_miss = yes_no(near > 0);
    facts.harmed = grave > 0 ? YES : ungraded > 0 ? 0 : NO;
    // the codes of worst_harm are those of harm without near-miss, so one less
    facts.worst = adverse == 0 ? CODE_worst_harm_NONE : greatest == 0 ? 0 : (uint8_t)(greatest - 1);
    return facts;
}

static void hour_and_weekday(const Network *n, int32_t utc, uint8_t *hour, uint8_t *weekday) {
    *hour = *weekday = 0;
    if (utc == WHEN_UNKNOWN)
        return;
    const int32_t local = when_to_local(n->zone, utc), day = when_day_of(local);
    *hour = (uint8_t)(1 + (local - day * WHEN_DAY) / 60);
    *weekday = (uint8_t)(1 + when_weekday(day));
}

static void derive(const Transfers *t, size_t i, const Network *n) {
#define OUT(field) (((uint8_t *)t->column[FIELD_##field])[i])
    const int32_t requested = transfers_times(t, FIELD_requested_at)[i];
    const int32_t departed = transfers_times(t, FIELD_departed_at)[i];
    const uint8_t urgency = transfers_codes(t, FIELD_urgency)[i];
    const EventFacts facts = event_facts(t, i);
    const uint8_t end = ended(departed, transfers_codes(t, FIELD_outcome)[i]);
    OUT(ended) = end;
    OUT(departed) = end == 0 ? 0 : yes_no(end == CODE_ended_DEPARTED);
    OUT(reason_group) = reason_group(transfers_codes(t, FIELD_reason)[i]);
    OUT(out_of_hours) =
        end == 0 ? 0 : out_of_hours(n, end == CODE_ended_DEPARTED ? departed : requested);
    OUT(adverse_event) = facts.adverse;
    OUT(near_miss) = facts.near_miss;
    OUT(harmed) = facts.harmed;
    OUT(worst_harm) = facts.worst;
    OUT(has_target) = urgency == 0 ? 0 : yes_no(n->target[urgency] >= 0);
    const int32_t wait =
        transfers_minutes(t, i, FIELD_requested_at, FIELD_departed_at, n->cap_wait);
    OUT(departed_in_time) =
        urgency == 0 || n->target[urgency] < 0 || wait < 0 ? 0 : yes_no(wait <= n->target[urgency]);
    hour_and_weekday(n, requested, &OUT(requested_hour), &OUT(requested_weekday));
    hour_and_weekday(n, departed, &OUT(departed_hour), &OUT(departed_weekday));
#undef OUT
}

typedef struct {
    const Transfers *t;
    const Network *network;
} Filling;

enum { BLOCK = 1 << 14 }; // transfers that a thread takes at a time

static void fill_block(unsigned block, void *user) {
    const Filling *f = user;
    const size_t first = (size_t)block * BLOCK;
    for (size_t i = first; i < MIN(first + BLOCK, f->t->n); i++)
        derive(f->t, i, f->network);
}

void derive_fill(Transfers *t, const Network *network, int threads) {
    for (int f = FIELD_STORED; f < FIELD_COUNT; f++)
        t->column[f] = g_realloc(t->column[f], t->n + 1);
    Filling filling = {t, network};
    parallel_each((unsigned)((t->n + BLOCK - 1) / BLOCK), threads, fill_block, &filling);
}
