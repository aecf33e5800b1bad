// SPDX-License-Identifier: GPL-3.0-or-later
// Alike rows: by a hash of all that they say, then field by field.
#include "cohort/alike.h"

#include "cohort/repeats.h"

#include <string.h>

typedef struct {
    uint64_t hash;
    size_t row;
} Place;

// Of an input: its rows, those that are alike an earlier one, and the first pair of these.
typedef struct {
    uint64_t rows, alike;
    size_t first, of;
} Count;

static uint64_t value(const Transfers *t, FieldId f, size_t row) {
    const void *column = t->column[f];
    switch (field_table[f].kind) {
    case KIND_ID:
        return ((const uint64_t *)column)[row];
    case KIND_UNIT:
        return f == FIELD_recorded_by ? repeats_keeper(t, row) : ((const uint16_t *)column)[row];
    case KIND_CODE:
        return ((const uint8_t *)column)[row];
    case KIND_DATE:
        return (uint32_t)transfers_date(t, f, row);
    case KIND_TIME:
        return (uint32_t)((const int32_t *)column)[row];
    case KIND_EVENTS:
        return ((const uint32_t *)column)[row];
    case KIND_NUMBER:
        break;
    }
    uint64_t bits;
    memcpy(&bits, (const double *)column + row, sizeof bits);
    return bits;
}

static bool has_time(const Transfers *t, size_t row) {
    for (int f = 0; f < FIELD_STORED; f++)
        if (field_table[f].kind == KIND_TIME && transfers_times(t, (FieldId)f)[row] != WHEN_UNKNOWN)
            return true;
    return false;
}

static uint64_t hash_of(const Transfers *t, size_t row) {
    uint64_t hash = 0;
    for (int f = 0; f < FIELD_STORED; f++) {
        hash = (hash ^ value(t, (FieldId)f, row)) * 0x9e3779b97f4a7c15u;
        hash ^= hash >> 32;
    }
    return hash;
}

static bool equal(const Transfers *t, size_t a, size_t b) {
    for (int f = 0; f < FIELD_STORED; f++)
        if (value(t, (FieldId)f, a) != value(t, (FieldId)f, b))
            return false;
    return true;
}

static int by_hash(gconstpointer a, gconstpointer b) {
    const Place *x = a, *y = b;
    if (x->hash != y->hash)
        return x->hash < y->hash ? -1 : 1;
    return (x->row > y->row) - (x->row < y->row);
}

static void count(Count *c, size_t row, size_t of) {
    if (c->alike == 0 || row < c->first)
        *c = (Count){c->rows, c->alike, row, of};
    c->alike++;
}

// Counts by input; sorted so that alike rows lie together, the earliest first.
static void count_all(const Transfers *t, const GArray *places, Count *counts) {
    for (guint i = 1, first = 0; i < places->len; i++) {
        const Place *a = &g_array_index(places, Place, first),
                    *b = &g_array_index(places, Place, i);
        if (a->hash == b->hash && equal(t, a->row, b->row))
            count(&counts[t->file[b->row]], b->row, a->row);
        else
            first = i;
    }
}

static void say(const Transfers *t, uint32_t file, const Count *c, const char *const *names,
                Findings *findings) {
    const bool all = c->alike == c->rows && c->rows > 1;
    const char *name = names[t->file[c->of]];
    const uint32_t line = t->line[c->of];
    Finding f = {.file = file,
                 .line = all ? 0 : t->line[c->first],
                 .field = FIELD_COUNT,
                 .severity = all ? SEVERITY_SEVERE : SEVERITY_NOTE,
                 .code = "alike"};
    f.message =
        all ? finding_text(findings,
                           "each of its %" G_GUINT64_FORMAT
                           " rows says what a row of another log says, the first what line %u of "
                           "%s says; without transfer_id all count twice",
                           c->rows, line, name)
            : finding_text(findings,
                           "says in every field what line %u of %s says; rows of this log that "
                           "say what an earlier one says: %" G_GUINT64_FORMAT
                           "; without transfer_id each counts",
                           line, name, c->alike);
    finding_add(findings, &f, NULL, 0);
}

void alike_say(const Transfers *t, const char *const *names, Findings *findings) {
    const uint64_t *id = t->column[FIELD_transfer_id];
    GArray *places = g_array_new(FALSE, FALSE, sizeof(Place));
    uint32_t files = 0;
    for (size_t i = 0; i < t->n; i++)
        files = MAX(files, t->file[i] + 1u);
    Count *counts = g_new0(Count, files + 1);
    for (size_t i = 0; i < t->n; i++) {
        counts[t->file[i]].rows++;
        if (id[i] != 0 || !has_time(t, i))
            continue;
        const Place place = {hash_of(t, i), i};
        g_array_append_val(places, place);
    }
    g_array_sort(places, by_hash);
    count_all(t, places, counts);
    for (uint32_t f = 0; f < files; f++)
        if (counts[f].alike > 0)
            say(t, f, &counts[f], names, findings);
    g_free(counts);
    g_array_unref(places);
}
