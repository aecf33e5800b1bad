// SPDX-License-Identifier: GPL-3.0-or-later
// Merging field by field, by the kind that the field table gives. A field that no record has is
// never written to: its column is shared.
#include "cohort/merge.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    Transfers *t;
    size_t sender, receiver;
    const Network *network;
    MergeAgreement *agreement;
    Findings *findings;
    bool receivers[FIELD_STORED]; // the value that stands is the receiver's
} Merge;

static bool is_receivers_word(FieldId f) {
    return f == FIELD_arrived_at || f == FIELD_handed_over_at || f == FIELD_handover_signed ||
           f == FIELD_receiving_area;
}

MergeAgreement *merge_agreement_new(void) {
    MergeAgreement *a = g_new0(MergeAgreement, 1);
    for (int f = 0; f < FIELD_STORED; f++) {
        const FieldKind kind = field_table[f].kind;
        a->field[f].k = kind == KIND_CODE ? field_table[f].codes->n : kind == KIND_EVENTS ? 2 : 0;
        a->field[f].cells = g_new0(uint64_t, (size_t)a->field[f].k * a->field[f].k + 1);
    }
    return a;
}

void merge_agreement_free(MergeAgreement *a) {
    if (!a)
        return;
    for (int f = 0; f < FIELD_STORED; f++)
        g_free(a->field[f].cells);
    g_free(a);
}

// Value of a field other than events and numbers; unknown ones are 0 or WHEN_UNKNOWN.
static int64_t value(const Transfers *t, FieldId f, size_t row) {
    switch (field_table[f].kind) {
    case KIND_UNIT:
        return transfers_units(t, f)[row];
    case KIND_CODE:
        return transfers_codes(t, f)[row];
    case KIND_DATE:
        return transfers_date(t, f, row);
    default:
        return transfers_times(t, f)[row];
    }
}

static void set(Transfers *t, FieldId f, size_t row, int64_t v) {
    switch (field_table[f].kind) {
    case KIND_UNIT:
        ((uint16_t *)t->column[f])[row] = (uint16_t)v;
        break;
    case KIND_CODE:
        ((uint8_t *)t->column[f])[row] = (uint8_t)v;
        break;
    default:
        ((int32_t *)t->column[f])[row] = (int32_t)v;
    }
}

static bool is_time(FieldId f) {
    return field_table[f].kind == KIND_TIME || field_table[f].kind == KIND_DATE;
}

static bool is_known(FieldId f, int64_t v) {
    return is_time(f) ? v != WHEN_UNKNOWN : v != 0;
}

// The word of row `lost` does not stand; found is what it said, or NULL. Which row the other one is
// stands in the finding `joined`: logs of both ends differ often, so nothing is written for each.
static void conflict(Merge *m, FieldId f, size_t lost, const char *found) {
    const char *message = f == FIELD_events
                              ? "the other end lists other events: united by category with the "
                                "greater harm"
                              : "the other end's row says otherwise, and its word stands";
    const Finding about = {m->t->file[lost], m->t->line[lost], 0,    (int)f,
                           SEVERITY_NOTE,    "ends-differ",    NULL, message};
    finding_add(m->findings, &about, found, found ? strlen(found) : 0);
}

// A value in words, times by the network's clocks.
static void print(const Network *network, char text[40], FieldId f, int64_t v) {
    int y, month, d;
    const bool clock = field_table[f].kind == KIND_TIME;
    const int32_t minute = clock ? when_to_local(network->zone, (int32_t)v) : (int32_t)v;
    if (!is_time(f)) {
        g_strlcpy(text, field_code_text(field_table[f].codes, (unsigned)v), 40);
        return;
    }
    const int32_t day = clock ? when_day_of(minute) : minute;
    when_civil(day, &y, &month, &d);
    if (clock)
        g_snprintf(text, 40, "%04d-%02d-%02dT%02d:%02d", y, month, d,
                   (minute - day * WHEN_DAY) / 60, (minute - day * WHEN_DAY) % 60);
    else
        g_snprintf(text, 40, "%04d-%02d-%02d", y, month, d);
}

static void tally(MergeField *a, bool sender, bool receiver, bool equal) {
    a->sender_known += sender;
    a->receiver_known += receiver;
    a->both += sender && receiver;
    a->equal += sender && receiver && equal;
}

static void merge_value(Merge *m, FieldId f) {
    const int64_t s = value(m->t, f, m->sender), r = value(m->t, f, m->receiver);
    const bool s_known = is_known(f, s), r_known = is_known(f, r);
    MergeField *a = &m->agreement->field[f];
    tally(a, s_known, r_known, s == r);
    if (s_known && r_known) {
        a->near += is_time(f) && llabs(s - r) <= MERGE_NEAR;
        if (a->k > 0)
            a->cells[(s - 1) * a->k + (r - 1)]++;
    }
    m->receivers[f] = r_known && (!s_known || (is_receivers_word(f) && s != r));
    if (s_known && r_known && s != r) {
        char found[40];
        print(m->network, found, f, m->receivers[f] ? s : r);
        conflict(m, f, m->receivers[f] ? m->sender : m->receiver, found);
    }
    if (m->receivers[f])
        set(m->t, f, m->sender, r);
}

// Pseudonyms: each end may have its own, so that a difference is none.
static void merge_id(Merge *m, FieldId f) {
    uint64_t *id = m->t->column[f];
    if (id[m->sender] == 0 && id[m->receiver] != 0)
        id[m->sender] = id[m->receiver];
}

static void merge_number(Merge *m, FieldId f) {
    double *number = m->t->column[f];
    const double s = number[m->sender], r = number[m->receiver];
    tally(&m->agreement->field[f], !isnan(s), !isnan(r), s == r);
    if (isnan(r))
        return;
    if (isnan(s)) {
        number[m->sender] = r;
    } else if (s != r) {
        char found[G_ASCII_DTOSTR_BUF_SIZE];
        conflict(m, f, m->receiver, g_ascii_formatd(found, sizeof found, "%.12g", r));
    }
}

static int by_category_worst_first(const void *a, const void *b) {
    const Event *x = a, *y = b;
    if (x->category != y->category)
        return x->category < y->category ? -1 : 1;
    return x->harm > y->harm ? -1 : x->harm < y->harm;
}

static Event *sorted_events(const Transfers *t, size_t row, size_t *n, bool *adverse) {
    const Event *events = transfers_events_of(t, row, n);
    Event *own = g_new(Event, *n + 1);
    *adverse = false;
    for (size_t i = 0; i < *n; i++) {
        own[i] = events[i];
        *adverse = *adverse || own[i].harm != CODE_harm_NEAR_MISS;
    }
    qsort(own, *n, sizeof *own, by_category_worst_first);
    return own;
}

// Both lists in order: the worst of a category is held against the other end's worst, and so on.
static size_t unite(const Event *a, size_t n, const Event *b, size_t m, Event *out) {
    size_t i = 0, k = 0, made = 0;
    while (i < n || k < m)
        if (k == m || (i < n && a[i].category < b[k].category)) {
            out[made++] = a[i++];
        } else if (i == n || b[k].category < a[i].category) {
            out[made++] = b[k++];
        } else {
            out[made] = a[i++];
            out[made].harm = MAX(out[made].harm, b[k].harm);
            made++, k++;
        }
    return made;
}

static void merge_events(Merge *m) {
    uint32_t *list = m->t->column[FIELD_events];
    const bool s_known = list[m->sender] != 0, r_known = list[m->receiver] != 0;
    MergeField *a = &m->agreement->field[FIELD_events];
    size_t n, k;
    bool s_any, r_any;
    Event *s = sorted_events(m->t, m->sender, &n, &s_any),
          *r = sorted_events(m->t, m->receiver, &k, &r_any), *all = g_new(Event, n + k + 1);
    const bool equal = n == k && memcmp(s, r, n * sizeof *s) == 0;
    tally(a, s_known, r_known, equal);
    if (s_known && r_known) {
        a->cells[(s_any ? 0 : 2) + (r_any ? 0 : 1)]++;
        if (!equal)
            conflict(m, FIELD_events, m->receiver, NULL);
    }
    if (!s_known && r_known)
        list[m->sender] = list[m->receiver];
    else if (s_known && r_known && !equal)
        list[m->sender] = transfers_events(m->t, all, unite(s, n, r, k, all));
    g_free(s);
    g_free(r);
    g_free(all);
}

static void doubt(Merge *m, FieldId f, const char *code, const char *message) {
    const Finding about = {
        m->t->file[m->sender], m->t->line[m->sender], 0, (int)f, SEVERITY_LOST, code, NULL, message,
    };
    finding_add(m->findings, &about, NULL, 0);
}

// What neither row had by itself: stamps of different ends out of order, a departure denied.
static void check_merged(Merge *m) {
    static const FieldId phases[] = {FIELD_requested_at,   FIELD_accepted_at, FIELD_team_ready_at,
                                     FIELD_at_patient_at,  FIELD_departed_at, FIELD_arrived_at,
                                     FIELD_handed_over_at, FIELD_returned_at};
    int before = -1;
    for (int p = 0; p < (int)G_N_ELEMENTS(phases); p++) {
        const int64_t at = value(m->t, phases[p], m->sender);
        if (at == WHEN_UNKNOWN)
            continue;
        if (before >= 0 && at < value(m->t, phases[before], m->sender) &&
            m->receivers[phases[p]] != m->receivers[phases[before]])
            doubt(m, phases[p], "ends-out-of-order",
                  "this stamp and the one before it come from different ends and are out of order: "
                  "the interval between them is left out");
        before = p;
    }
    if (m->receivers[FIELD_departed_at] != m->receivers[FIELD_outcome] &&
        value(m->t, FIELD_departed_at, m->sender) != WHEN_UNKNOWN &&
        transfers_codes(m->t, FIELD_outcome)[m->sender] >= CODE_outcome_STOOD_DOWN)
        doubt(m, FIELD_outcome, "departed-and-not",
              "one end has a departure, the other an outcome that did not depart; how it ended is "
              "taken as unknown");
}

void merge_rows(Transfers *t, size_t sender, size_t receiver, const Network *network,
                MergeAgreement *agreement, Findings *findings) {
    Merge m = {t, sender, receiver, network, agreement, findings, {false}};
    for (int f = 0; f < FIELD_STORED; f++)
        switch (field_table[f].kind) {
        case KIND_ID:
            merge_id(&m, (FieldId)f);
            break;
        case KIND_NUMBER:
            merge_number(&m, (FieldId)f);
            break;
        case KIND_EVENTS:
            merge_events(&m);
            break;
        default:
            if (f != FIELD_recorded_by)
                merge_value(&m, (FieldId)f);
        }
    check_merged(&m);
    transfers_set_other(t, sender, t->file[receiver], t->line[receiver]);
}
