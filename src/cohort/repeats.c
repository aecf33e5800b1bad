// SPDX-License-Identifier: GPL-3.0-or-later
// Repeats: rows that may share an id, sorted by id, keeper and age; within an id, kept rows are
// looked up by their day.
#include "cohort/repeats.h"

#include <stdlib.h>
#include <string.h>

// Requests 24 h apart lie up to two local days apart where the clocks go forward between them.
enum { DAYS_ABOUT = 2 };

typedef struct {
    uint64_t id;
    uint64_t age; // rank of the file, then line
    uint32_t row;
    uint32_t next; // of the kept rows of the same day, an older one's place + 1; 0 at the end
    uint16_t keeper;
} Place;

typedef struct {
    const Transfers *t;
    const Network *network;
    Place *places;
    GHashTable *days; // of the id at hand: day -> newest place + 1 of a kept row
} Repeats;

uint16_t repeats_keeper(const Transfers *t, size_t row) {
    const uint16_t own = transfers_units(t, FIELD_recorded_by)[row];
    return own ? own : transfers_units(t, FIELD_sending_unit)[row];
}

static int by_id_newest_first(const void *a, const void *b) {
    const Place *x = a, *y = b;
    if (x->id != y->id)
        return x->id < y->id ? -1 : 1;
    if (x->keeper != y->keeper)
        return x->keeper < y->keeper ? -1 : 1;
    return x->age > y->age ? -1 : x->age < y->age;
}

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

static uint32_t kept_on(const Repeats *r, int32_t day) {
    return GPOINTER_TO_UINT(g_hash_table_lookup(r->days, GINT_TO_POINTER(day)));
}

static bool repeats_kept(const Repeats *r, uint32_t row, int32_t day) {
    for (int32_t d = day - DAYS_ABOUT; d <= day + DAYS_ABOUT; d++)
        for (uint32_t k = kept_on(r, d); k != 0; k = r->places[k - 1].next)
            if (is_repeat(r, row, r->places[k - 1].row))
                return true;
    return false;
}

static void say_reused(const Transfers *t, uint32_t row, Findings *findings) {
    const Finding f = {t->file[row],
                       t->line[row],
                       0,
                       FIELD_transfer_id,
                       SEVERITY_NOTE,
                       "id-reused",
                       NULL,
                       "this id stands for another transfer in the same keeper's logs; both stay"};
    finding_add(findings, &f, NULL, 0);
}

static void say_repeated(const Transfers *t, uint32_t row, Findings *findings) {
    static const char message[] = "the same transfer again: same id, log keeper, ends and time; a "
                                  "later row stands for it";
    const Finding f = {t->file[row],  t->line[row], 0,    FIELD_COUNT,
                       SEVERITY_NOTE, "repeated",   NULL, message};
    finding_add(findings, &f, NULL, 0);
    finding_put_aside(findings, f.file, f.line, f.code, message, NULL);
}

// Rows of one id and keeper, places [first, end).
static uint64_t one_id(Repeats *r, size_t first, size_t end, uint8_t *keep, Findings *findings) {
    uint64_t repeated = 0;
    g_hash_table_remove_all(r->days);
    for (size_t p = first; p < end; p++) {
        const uint32_t row = r->places[p].row;
        const int32_t day = transfers_day(r->t, row, r->network);
        if (p > first && repeats_kept(r, row, day)) {
            keep[row] = 0;
            repeated++;
            say_repeated(r->t, row, findings);
            continue;
        }
        if (p > first)
            say_reused(r->t, row, findings);
        r->places[p].next = kept_on(r, day);
        g_hash_table_insert(r->days, GINT_TO_POINTER(day), GUINT_TO_POINTER((guint)p + 1));
    }
    return repeated;
}

// Place of a row's id and keeper in a table of 2^bits places.
static size_t slot(const Transfers *t, const uint64_t *id, size_t row, unsigned bits) {
    const uint64_t key = id[row] ^ (uint64_t)repeats_keeper(t, row) << 48;
    return (size_t)(key * 0x9e3779b97f4a7c15u >> (64 - bits));
}

// Rows whose id and keeper may occur twice: they share a slot. The others, nearly all, need no
// sorting.
static Place *shared_slots(const Transfers *t, const uint32_t *rank, size_t *n) {
    const uint64_t *id = t->column[FIELD_transfer_id];
    unsigned bits = 10;
    while (bits < 40 && (size_t)1 << bits < 4 * t->n)
        bits++;
    uint8_t *seen = g_malloc0((size_t)1 << (bits - 2)); // two bits a slot: rows there, 2 = more
    for (size_t i = 0; i < t->n; i++) {
        const size_t s = slot(t, id, i, bits);
        const unsigned shift = (unsigned)(s % 4 * 2), rows = (unsigned)seen[s / 4] >> shift & 3u;
        if (id[i] != 0 && rows < 2) {
            *n += rows == 0 ? 0 : 2;
            seen[s / 4] = (uint8_t)(seen[s / 4] + (1u << shift));
        } else if (id[i] != 0)
            *n += 1;
    }
    Place *places = g_new(Place, *n + 1);
    *n = 0;
    for (size_t i = 0; i < t->n; i++) {
        const size_t s = slot(t, id, i, bits);
        if (id[i] != 0 && ((unsigned)seen[s / 4] >> (s % 4 * 2) & 3u) == 2)
            places[(*n)++] = (Place){id[i], (uint64_t)rank[t->file[i]] << 32 | t->line[i],
                                     (uint32_t)i, 0, repeats_keeper(t, i)};
    }
    g_free(seen);
    return places;
}

uint64_t repeats_find(const Transfers *t, const Network *network, const uint32_t *rank,
                      uint8_t *keep, Findings *findings) {
    size_t n = 0;
    Repeats r = {t, network, shared_slots(t, rank, &n), g_hash_table_new(NULL, NULL)};
    uint64_t repeated = 0;
    memset(keep, 1, t->n);
    qsort(r.places, n, sizeof *r.places, by_id_newest_first);
    for (size_t first = 0, end; first < n; first = end) {
        end = first + 1;
        while (end < n && r.places[end].id == r.places[first].id &&
               r.places[end].keeper == r.places[first].keeper)
            end++;
        if (end - first > 1)
            repeated += one_id(&r, first, end, keep, findings);
    }
    g_hash_table_unref(r.days);
    g_free(r.places);
    return repeated;
}
