// SPDX-License-Identifier: GPL-3.0-or-later
// Joining both ends' rows: who logged what, pairs by pseudonym, then by ends, then the merging.
#include "cohort/join.h"

#include "cohort/pairing.h"
#include "cohort/repeats.h"

typedef struct {
    Transfers *t;
    const Network *network;
    uint8_t *keep;
    uint8_t *settled; // rows that are joined or in doubt by their pseudonym
    Pairing found;
} Joining;

Join *join_new(void) {
    Join *join = g_new0(Join, 1);
    join->agreement = merge_agreement_new();
    return join;
}

void join_free(Join *join) {
    if (!join)
        return;
    merge_agreement_free(join->agreement);
    g_free(join);
}

static bool is_receivers(const Transfers *t, size_t i) {
    const uint16_t keeper = transfers_units(t, FIELD_recorded_by)[i];
    return keeper && keeper == transfers_units(t, FIELD_receiving_unit)[i];
}

static bool is_senders(const Transfers *t, size_t i) {
    return repeats_keeper(t, i) == transfers_units(t, FIELD_sending_unit)[i];
}

JoinLogged join_logged(const Transfers *t, size_t row) {
    if (t->other_line && t->other_line[row] > 0)
        return JOIN_BOTH;
    return is_receivers(t, row) ? JOIN_RECEIVER : is_senders(t, row) ? JOIN_SENDER : JOIN_NEITHER;
}

static gpointer ends_of(const Transfers *t, size_t i) {
    return GUINT_TO_POINTER((guint)transfers_units(t, FIELD_sending_unit)[i] << 16 |
                            transfers_units(t, FIELD_receiving_unit)[i]);
}

static PairingEntry entry(const Joining *j, size_t i, bool by_id) {
    static const FieldId times[PAIRING_TIMES] = {FIELD_departed_at, FIELD_arrived_at,
                                                 FIELD_requested_at};
    const Transfers *t = j->t;
    PairingEntry e = {.place = (uint64_t)t->file[i] << 32 | t->line[i],
                      .day = transfers_day(t, i, j->network),
                      .row = (uint32_t)i,
                      .from = transfers_units(t, FIELD_sending_unit)[i],
                      .to = transfers_units(t, FIELD_receiving_unit)[i],
                      .receiver = is_receivers(t, i),
                      .band = transfers_codes(t, FIELD_age_band)[i],
                      .condition = transfers_codes(t, FIELD_condition)[i]};
    e.block = by_id ? ((const uint64_t *)t->column[FIELD_transfer_id])[i] : e.to;
    for (int k = 0; k < PAIRING_TIMES; k++)
        e.at[k] = transfers_times(t, times[k])[i];
    return e;
}

// Ends between which the receiver logged anything; NULL if no receiver did.
static GHashTable *received_ends(const Transfers *t) {
    GHashTable *ends = NULL;
    for (size_t i = 0; i < t->n; i++)
        if (is_receivers(t, i)) {
            ends = ends ? ends : g_hash_table_new(NULL, NULL);
            g_hash_table_add(ends, ends_of(t, i));
        }
    return ends;
}

static bool is_wanted(const Joining *j, size_t i, GHashTable *ends, bool by_id) {
    const bool receivers = is_receivers(j->t, i);
    if (j->settled[i] || (!receivers && !is_senders(j->t, i)))
        return false;
    if (by_id)
        return ((const uint64_t *)j->t->column[FIELD_transfer_id])[i] != 0;
    return receivers || g_hash_table_contains(ends, ends_of(j->t, i));
}

static void find(Joining *j, GHashTable *ends, bool by_id) {
    size_t n = 0;
    for (size_t i = 0; i < j->t->n; i++)
        n += is_wanted(j, i, ends, by_id);
    PairingEntry *entries = g_new(PairingEntry, n + 1);
    const guint doubts = j->found.doubts->len;
    n = 0;
    for (size_t i = 0; i < j->t->n; i++)
        if (is_wanted(j, i, ends, by_id))
            entries[n++] = entry(j, i, by_id);
    const PairingRules rules = {j->network->join_window, by_id};
    pairing_find(entries, n, &rules, &j->found);
    for (guint i = 0; i < j->found.matches->len; i++) {
        const PairingMatch m = g_array_index(j->found.matches, PairingMatch, i);
        j->settled[m.sender] = j->settled[m.receiver] = 1;
    }
    for (guint i = doubts; i < j->found.doubts->len; i++)
        j->settled[g_array_index(j->found.doubts, PairingDoubt, i).row] = 1;
    g_free(entries);
}

static void note(const Transfers *t, uint32_t row, const char *code, const char *message,
                 Findings *findings) {
    const Finding f = {t->file[row],  t->line[row], 0,    FIELD_COUNT,
                       SEVERITY_NOTE, code,         NULL, message};
    finding_add(findings, &f, NULL, 0);
}

static void say_doubts(const Joining *j, const char *const *names, Findings *findings) {
    for (guint i = 0; i < j->found.doubts->len; i++) {
        const PairingDoubt d = g_array_index(j->found.doubts, PairingDoubt, i);
        const char *file = names[j->t->file[d.example]];
        const uint32_t line = j->t->line[d.example];
        if (d.only_ends)
            note(j->t, d.row, "join-only-ends",
                 finding_text(findings,
                              "may be the transfer that the other end logged at %s:%u, but they "
                              "agree in nothing but ends and day: not joined, both count",
                              file, line),
                 findings);
        else
            note(j->t, d.row, "join-doubtful",
                 finding_text(
                     findings,
                     "may be the transfer that the other end logged at %s:%u (%" G_GUINT64_FORMAT
                     " of its rows may be), but others fit as well: not joined, all count",
                     file, line, d.partners),
                 findings);
    }
}

static int by_sender(gconstpointer a, gconstpointer b) {
    const PairingMatch *x = a, *y = b;
    return (x->sender > y->sender) - (x->sender < y->sender);
}

static void merge_matches(Joining *j, const char *const *names, Join *join, Findings *findings) {
    g_array_sort(j->found.matches, by_sender);
    for (guint i = 0; i < j->found.matches->len; i++) {
        const PairingMatch m = g_array_index(j->found.matches, PairingMatch, i);
        merge_rows(j->t, m.sender, m.receiver, j->network, join->agreement, findings);
        note(j->t, m.receiver, "joined",
             finding_text(findings, "the same transfer as %s:%u, which the sender logged: joined",
                          names[j->t->file[m.sender]], j->t->line[m.sender]),
             findings);
        j->keep[m.receiver] = 0;
    }
}

void join_ends(Transfers *t, const Network *network, const char *const *names, uint8_t *keep,
               Join *join, Findings *findings) {
    for (size_t i = 0; i < t->n; i++)
        keep[i] = 1;
    GHashTable *ends = received_ends(t);
    if (!ends)
        return;
    Joining j = {t,
                 network,
                 keep,
                 g_malloc0(t->n),
                 {g_array_new(FALSE, FALSE, sizeof(PairingMatch)),
                  g_array_new(FALSE, FALSE, sizeof(PairingDoubt)), 0, 0}};
    if (network->shared_ids)
        find(&j, ends, true);
    find(&j, ends, false);
    merge_matches(&j, names, join, findings);
    say_doubts(&j, names, findings);
    join->joined += j.found.matches->len;
    join->doubtful += j.found.doubtful;
    join->would_join += j.found.would_join;
    g_array_unref(j.found.matches);
    g_array_unref(j.found.doubts);
    g_free(j.settled);
    g_hash_table_unref(ends);
}
