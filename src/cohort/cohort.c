// SPDX-License-Identifier: GPL-3.0-or-later
// Repeats, exclusions and the account of rows.
#include "cohort/cohort.h"

#include "record/derive.h"

#include <stdlib.h>

typedef struct {
    const Transfers *t;
    const Network *network;
    uint32_t *next;    // next kept row with the same id and keeper, UINT32_MAX at the end
    GHashTable *heads; // Key -> row
} Repeats;

typedef struct {
    uint64_t id;
    uint64_t keeper;
} Key;

static guint key_hash(gconstpointer p) {
    const Key *k = p;
    return (guint)(k->id ^ k->id >> 32 ^ k->keeper * 2654435761u);
}

static gboolean key_equal(gconstpointer a, gconstpointer b) {
    const Key *x = a, *y = b;
    return x->id == y->id && x->keeper == y->keeper;
}

static uint16_t keeper_of(const Transfers *t, size_t i) {
    const uint16_t own = transfers_units(t, FIELD_recorded_by)[i];
    return own ? own : transfers_units(t, FIELD_sending_unit)[i];
}

// Same ends where known; requests at most 24 h apart, or the same day where no time is known.
static bool is_repeat(const Repeats *r, size_t a, size_t b) {
    const uint16_t *to = transfers_units(r->t, FIELD_receiving_unit);
    const uint16_t *from = transfers_units(r->t, FIELD_sending_unit);
    if (from[a] != from[b] || (to[a] && to[b] && to[a] != to[b]))
        return false;
    const int32_t *at = transfers_times(r->t, FIELD_requested_at);
    if (at[a] != WHEN_UNKNOWN && at[b] != WHEN_UNKNOWN)
        return abs(at[a] - at[b]) <= WHEN_DAY;
    return transfers_day(r->t, a, r->network) == transfers_day(r->t, b, r->network);
}

// Compares a row with the newer ones that are kept under its id; keeps it unless it repeats one.
static bool keep_row(Repeats *r, size_t i, Findings *findings) {
    const uint64_t id = ((const uint64_t *)r->t->column[FIELD_transfer_id])[i];
    if (id == 0)
        return true;
    const Key key = {id, keeper_of(r->t, i)};
    gpointer head;
    const bool seen = g_hash_table_lookup_extended(r->heads, &key, NULL, &head);
    for (uint32_t k = seen ? GPOINTER_TO_UINT(head) : UINT32_MAX; k != UINT32_MAX; k = r->next[k])
        if (is_repeat(r, i, k)) {
            finding_put_aside(findings, r->t->file[i], r->t->line[i], "repeated",
                              "the same transfer again: same id, log keeper, ends and time; a "
                              "later row stands for it",
                              NULL);
            return false;
        }
    if (seen) {
        const Finding f = {
            r->t->file[i],
            r->t->line[i],
            0,
            FIELD_transfer_id,
            SEVERITY_NOTE,
            "id-reused",
            NULL,
            "this id stands for another transfer in the same keeper's logs; both stay"};
        finding_add(findings, &f, NULL, 0);
    }
    r->next[i] = seen ? GPOINTER_TO_UINT(head) : UINT32_MAX;
    Key *own = g_memdup2(&key, sizeof key);
    g_hash_table_replace(r->heads, own, GUINT_TO_POINTER((guint)i));
    return true;
}

typedef struct {
    uint64_t order; // rank of the file, then line
    uint32_t row;
} Place;

static int newest_first(const void *a, const void *b) {
    const Place *x = a, *y = b;
    return x->order > y->order ? -1 : x->order < y->order;
}

static uint64_t drop_repeats(Transfers *t, const Network *network, const uint32_t *rank,
                             Findings *findings) {
    Repeats r = {t, network, g_new(uint32_t, t->n + 1),
                 g_hash_table_new_full(key_hash, key_equal, g_free, NULL)};
    Place *places = g_new(Place, t->n + 1);
    uint8_t *keep = g_malloc(t->n + 1);
    uint64_t dropped = 0;
    for (size_t i = 0; i < t->n; i++)
        places[i] = (Place){(uint64_t)rank[t->file[i]] << 32 | t->line[i], (uint32_t)i};
    qsort(places, t->n, sizeof *places, newest_first);
    for (size_t i = 0; i < t->n; i++) {
        keep[places[i].row] = keep_row(&r, places[i].row, findings);
        dropped += !keep[places[i].row];
    }
    transfers_keep(t, keep);
    g_free(keep);
    g_free(places);
    g_free(r.next);
    g_hash_table_unref(r.heads);
    return dropped;
}

static uint64_t leave_out(Transfers *t, const Network *network, const Condition *include,
                          int32_t last_day, Findings *findings) {
    uint8_t *keep = g_malloc(t->n + 1);
    uint64_t out = 0;
    for (size_t i = 0; i < t->n; i++) {
        const bool late = last_day != WHEN_UNKNOWN && transfers_day(t, i, network) > last_day;
        keep[i] = !late && (!include || condition_value(include, t, i) == CONDITION_TRUE);
        if (!keep[i])
            finding_put_aside(findings, t->file[i], t->line[i],
                              late ? "after-period" : "not-included",
                              late ? "lies after the audited period"
                                   : "the network's 'include' is not true of it",
                              NULL);
        out += !keep[i];
    }
    transfers_keep(t, keep);
    g_free(keep);
    return out;
}

Account cohort_make(Transfers *t, const Network *network, const uint32_t *rank,
                    const Condition *include, int32_t last_day, uint64_t rows_read,
                    Findings *findings) {
    Account a = {.read = rows_read, .put_aside = findings->put_aside->len};
    a.repeated = drop_repeats(t, network, rank, findings);
    derive_fill(t, network);
    a.left_out = leave_out(t, network, include, last_day, findings);
    a.used = t->n;
    return a;
}

bool cohort_account_holds(const Account *a) {
    return a->read == a->used + a->put_aside + a->repeated + a->merged + a->left_out;
}
