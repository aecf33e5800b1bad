// SPDX-License-Identifier: GPL-3.0-or-later
// Stamps of one record, in the order of the phases.
#include "intake/phases.h"

// ended_at belongs behind the bedside: a request that ends there does not depart.
static const FieldId phase[] = {FIELD_requested_at,  FIELD_accepted_at,    FIELD_team_ready_at,
                                FIELD_at_patient_at, FIELD_ended_at,       FIELD_departed_at,
                                FIELD_arrived_at,    FIELD_handed_over_at, FIELD_returned_at};
enum { PHASES = G_N_ELEMENTS(phase), DEPARTED = 5, DISAGREE = 5, HOUR = 60, HALF_DAY = 720 };

typedef struct {
    CellRecord *record;
    const CellStyle *style;
    PhaseNote *notes;
    unsigned n;
    bool first_shared_placed;
} Resolving;

static void add_note(PhaseNote *notes, unsigned *n, FieldId field, uint32_t column,
                     Severity severity, const char *code, const char *message) {
    if (*n < PHASES_NOTES)
        notes[(*n)++] = (PhaseNote){field, column, severity, code, message};
}

static int32_t local(const Resolving *r, unsigned p) {
    const int64_t at = r->record->draft.value[phase[p]];
    return at == WHEN_UNKNOWN ? WHEN_UNKNOWN : when_to_local(r->style->zone, (int32_t)at);
}

// Local minute of the last known stamp before phase p.
static int32_t before(const Resolving *r, unsigned p) {
    int32_t last = WHEN_UNKNOWN;
    for (unsigned i = 0; i < p; i++)
        if (phase[i] != FIELD_ended_at)
            last = MAX(last, local(r, i));
    return last;
}

// Local minute of the first stamp behind phase p that stands in one cell.
static int32_t after(const Resolving *r, unsigned p) {
    for (unsigned i = p + 1; i < PHASES; i++)
        if (phase[i] != FIELD_ended_at && local(r, i) != WHEN_UNKNOWN)
            return local(r, i);
    return INT32_MAX;
}

static bool within_caps(const Resolving *r, unsigned p, int32_t at, int32_t last) {
    const CellStyle *style = r->style;
    bool capped = false;
    for (unsigned c = 0; c < style->n_caps; c++)
        for (unsigned i = 0; i < p; i++)
            if (style->caps[c].to == phase[p] && style->caps[c].from == phase[i] &&
                local(r, i) != WHEN_UNKNOWN) {
                if (at - local(r, i) > style->caps[c].minutes)
                    return false;
                capped = capped || local(r, i) == last;
            }
    return capped || p <= DEPARTED || at - last <= HALF_DAY;
}

// The local day that a clock belongs to, before midnight is thought of; false if nothing says.
static bool day_of(Resolving *r, const CellPart *part, int32_t last, int32_t *day) {
    if (part->has_day && (!part->shared || !r->first_shared_placed)) {
        *day = part->day;
        r->first_shared_placed = r->first_shared_placed || part->shared;
        return true;
    }
    if (last != WHEN_UNKNOWN)
        *day = when_day_of(last);
    else if (part->has_day)
        *day = part->day;
    else if (r->record->draft.value[FIELD_transfer_date] != WHEN_UNKNOWN)
        *day = (int32_t)r->record->draft.value[FIELD_transfer_date];
    else
        return false;
    r->record->dated_before = r->record->dated_before || last != WHEN_UNKNOWN || !part->has_day;
    return true;
}

static void say(Resolving *r, unsigned p, Severity severity, const char *code,
                const char *message) {
    add_note(r->notes, &r->n, phase[p], r->record->part[phase[p]].column, severity, code, message);
}

// Whether a clock that lies before the last stamp is the next day's.
static bool next_day(const Resolving *r, unsigned p, int32_t at, int32_t last) {
    return last - at > HOUR && at + WHEN_DAY >= last && at + WHEN_DAY <= after(r, p) &&
           within_caps(r, p, at + WHEN_DAY, last);
}

static void resolve(Resolving *r, unsigned p) {
    CellPart *part = &r->record->part[phase[p]];
    const int32_t last = before(r, p);
    int32_t day;
    if (!part->has_clock || part->lost)
        return;
    if (!day_of(r, part, last, &day)) {
        say(r, p, SEVERITY_LOST, "time-without-date",
            "a clock time without a date, and no stamp before it gives one; taken as unknown");
        return;
    }
    int32_t at = day * WHEN_DAY + part->minute;
    const bool own_day = part->has_day && !part->shared;
    if (!own_day && last != WHEN_UNKNOWN && at < last && next_day(r, p, at, last)) {
        at += WHEN_DAY;
        r->record->next_day = true;
        say(r, p, SEVERITY_REPAIR, "midnight",
            "earlier than the stamp before it, so taken as the next day's");
    } else if (part->stray && !part->has_day) {
        say(r, p, SEVERITY_REPAIR, "date-from-before",
            last == WHEN_UNKNOWN
                ? "a clock time without a date; the date is that of transfer_date"
                : "a clock time without a date; the date is that of the stamp before it");
    }
    const CellFault fault = cell_set_time(r->record, phase[p], part->column, at, false, r->style);
    if (fault.code)
        say(r, p, SEVERITY_LOST, fault.code, fault.message);
}

// Whether the known stamps stand in the order of the phases.
static bool in_order(const Draft *d) {
    int64_t last = INT64_MIN;
    for (unsigned p = 0; p < PHASES; p++) {
        const int64_t at = d->value[phase[p]];
        if (at == WHEN_UNKNOWN || phase[p] == FIELD_ended_at)
            continue;
        if (at < last)
            return false;
        last = at;
    }
    const int64_t end = d->value[FIELD_ended_at], start = d->value[FIELD_requested_at];
    return end == WHEN_UNKNOWN || start == WHEN_UNKNOWN || end >= start;
}

static void choose(CellRecord *r, unsigned choice) {
    for (unsigned i = 0; i < r->n_twice; i++)
        r->draft.value[r->twice[i].field] =
            choice >> i & 1 ? r->twice[i].second : r->twice[i].first;
}

// Settles hours that came twice; false if that can't be done, then they are unknown.
static bool settle(CellRecord *r) {
    unsigned found = 0, good = 0;
    for (unsigned c = 0; c < 1u << r->n_twice; c++) {
        choose(r, c);
        if (in_order(&r->draft))
            good = c, found++;
    }
    if (found == 1) {
        choose(r, good);
        return true;
    }
    for (unsigned i = 0; i < r->n_twice; i++)
        r->draft.value[r->twice[i].field] = WHEN_UNKNOWN;
    return false;
}

// Times that two columns say different things of are not known.
static void drop_clashing(CellRecord *r) {
    unsigned kept = 0;
    for (unsigned i = 0; i < r->n_twice; i++)
        if (!(r->clashing >> r->twice[i].field & 1))
            r->twice[kept++] = r->twice[i];
    r->n_twice = kept;
    for (unsigned p = 0; p < PHASES; p++)
        if (r->clashing >> phase[p] & 1)
            r->draft.value[phase[p]] = WHEN_UNKNOWN;
    r->partial &= ~r->clashing;
}

unsigned phases_resolve(CellRecord *record, const CellStyle *style, PhaseNote notes[PHASES_NOTES]) {
    Resolving r = {record, style, notes, 0, false};
    if (record->clashing)
        drop_clashing(record);
    for (unsigned p = 0; record->partial && p < PHASES; p++)
        if (record->partial >> phase[p] & 1 && record->draft.value[phase[p]] == WHEN_UNKNOWN)
            resolve(&r, p);
    const bool settled = record->n_twice == 0 || settle(record);
    for (unsigned i = 0; i < record->n_twice; i++)
        add_note(notes, &r.n, record->twice[i].field, record->twice[i].column,
                 settled ? SEVERITY_REPAIR : SEVERITY_LOST, settled ? "time-settled" : "time-twice",
                 settled ? "this local time came twice; the order of the stamps decides which"
                         : "this local time came twice, the clocks went back; taken as unknown");
    return r.n;
}

static void doubt_order(const Draft *d, const unsigned *known, unsigned n, unsigned k,
                        PhaseNote *notes, unsigned *n_notes) {
    const int64_t at = d->value[phase[known[k]]], last = d->value[phase[known[k - 1]]];
    if (at >= last)
        return;
    const int64_t before_both = k >= 2 ? d->value[phase[known[k - 2]]] : INT64_MIN;
    const int64_t after_both = k + 1 < n ? d->value[phase[known[k + 1]]] : INT64_MAX;
    const char *code = "out-of-order", *message = "before the stamp that should precede it; "
                                                  "intervals between them are left out";
    if (last - at <= DISAGREE) {
        code = "clocks-disagree";
        message = "up to five minutes before the stamp that should precede it, as when clocks "
                  "disagree; intervals between them are left out";
    } else if (before_both <= at && last <= after_both) {
        code = "swapped";
        message = "before the stamp that should precede it; exchanged, the two would be in order; "
                  "left as they are, intervals between them are left out";
    }
    add_note(notes, n_notes, phase[known[k]], 0, SEVERITY_LOST, code, message);
}

unsigned phases_doubt(const CellRecord *record, const CellStyle *style,
                      PhaseNote notes[PHASES_NOTES]) {
    const Draft *d = &record->draft;
    unsigned known[PHASES], n = 0, n_notes = 0;
    for (unsigned p = 0; p < PHASES; p++)
        if (d->value[phase[p]] != WHEN_UNKNOWN && phase[p] != FIELD_ended_at)
            known[n++] = p;
    for (unsigned k = 1; k < n; k++)
        doubt_order(d, known, n, k, notes, &n_notes);
    const int64_t end = d->value[FIELD_ended_at], start = d->value[FIELD_requested_at];
    if (end != WHEN_UNKNOWN && start != WHEN_UNKNOWN && end < start)
        add_note(notes, &n_notes, FIELD_ended_at, 0, SEVERITY_LOST, "out-of-order",
                 "before the stamp that should precede it; intervals between them are left "
                 "out");
    for (unsigned c = 0; c < style->n_caps; c++) {
        const int64_t a = d->value[style->caps[c].from], b = d->value[style->caps[c].to];
        if (a != WHEN_UNKNOWN && b != WHEN_UNKNOWN && b - a > style->caps[c].minutes)
            add_note(notes, &n_notes, style->caps[c].to, 0, SEVERITY_LOST, "too-long",
                     "later than is believable (caps in network.ini) after an earlier stamp; the "
                     "interval is left out");
    }
    return n_notes;
}
