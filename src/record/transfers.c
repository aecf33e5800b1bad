// SPDX-License-Identifier: GPL-3.0-or-later
// The column store.
#include "record/transfers.h"

#include <math.h>
#include <string.h>

static size_t width(const Transfers *t, FieldId f) {
    if (f >= FIELD_STORED || (t->ids_dropped && field_table[f].kind == KIND_ID))
        return sizeof(uint8_t);
    static const size_t bytes[] = {
        [KIND_ID] = sizeof(uint64_t),   [KIND_UNIT] = sizeof(uint16_t),
        [KIND_CODE] = sizeof(uint8_t),  [KIND_DATE] = sizeof(int32_t),
        [KIND_TIME] = sizeof(int32_t),  [KIND_EVENTS] = sizeof(uint32_t),
        [KIND_NUMBER] = sizeof(double),
    };
    return bytes[field_table[f].kind];
}

Transfers *transfers_new(void) {
    Transfers *t = g_new0(Transfers, 1);
    t->units = g_ptr_array_new_with_free_func(g_free);
    g_ptr_array_add(t->units, g_strdup(""));
    t->unit_index = g_hash_table_new(g_str_hash, g_str_equal);
    t->events = g_array_new(FALSE, FALSE, sizeof(Event));
    t->event_starts = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    const uint32_t zero = 0;
    g_array_append_val(t->event_starts, zero);
    g_array_append_val(t->event_starts, zero);
    t->event_index =
        g_hash_table_new_full(g_bytes_hash, g_bytes_equal, (GDestroyNotify)g_bytes_unref, NULL);
    return t;
}

static FieldKind kind_of(FieldId f) {
    return f < FIELD_STORED ? field_table[f].kind : KIND_CODE;
}

// Whether the field has a column that is not shared.
static bool owns(const Transfers *t, FieldId f) {
    return t->column[f] && t->column[f] != t->unknown[kind_of(f)];
}

void transfers_free(Transfers *t) {
    if (!t)
        return;
    for (int f = 0; f < FIELD_COUNT; f++)
        if (owns(t, (FieldId)f))
            g_free(t->column[f]);
    for (int k = 0; k < TRANSFERS_WIDTHS; k++)
        g_free(t->unknown[k]);
    g_free(t->file);
    g_free(t->line);
    g_free(t->other_file);
    g_free(t->other_line);
    g_hash_table_unref(t->unit_index);
    g_ptr_array_unref(t->units);
    g_array_unref(t->events);
    g_array_unref(t->event_starts);
    g_hash_table_unref(t->event_index);
    g_free(t);
}

// What no record says: of each kind of field, then of each field.
enum {
    UNKNOWN_ID = 0,
    UNKNOWN_UNIT = 0,
    UNKNOWN_CODE = 0,
    UNKNOWN_DATE = WHEN_UNKNOWN,
    UNKNOWN_TIME = WHEN_UNKNOWN,
    UNKNOWN_EVENTS = 0,
    UNKNOWN_NUMBER = 0
};
static const int64_t unknown_values[FIELD_COUNT] = {
#define FIELD(name, kind, list, need, description) UNKNOWN_##kind,
#include "record/fields.def"
};

void transfers_clear_draft(Draft *draft) {
    draft->id[0] = draft->id[1] = 0;
    memcpy(draft->value, unknown_values, sizeof draft->value);
    draft->distance_km = NAN;
    draft->file = 0;
    draft->line = 0;
}

static bool grow_one(void *at, size_t bytes) {
    void *old, *bigger;
    memcpy(&old, at, sizeof old);
    bigger = g_try_realloc(old, bytes);
    if (bigger)
        memcpy(at, &bigger, sizeof bigger);
    return bigger != NULL;
}

enum { FIRST_ROOM = 1024 }; // transfers: a piece of a log has some fewer, mostly

// Gives each column that the store owns room for so many transfers.
static bool set_room(Transfers *t, size_t room) {
    for (int f = 0; f < FIELD_COUNT; f++)
        if (owns(t, (FieldId)f) && !grow_one(&t->column[f], room * width(t, (FieldId)f)))
            return false;
    if (!grow_one(&t->file, room * sizeof *t->file) || !grow_one(&t->line, room * sizeof *t->line))
        return false;
    t->room = room;
    return true;
}

static bool grow(Transfers *t, size_t need) {
    return need <= t->room || set_room(t, MAX(need, t->room + t->room / 2 + FIRST_ROOM));
}

// Sets n values of a column of the field, from a place on, to unknown.
static void fill_unknown(const Transfers *t, void *column, FieldId f, size_t from, size_t n) {
    const FieldKind kind = kind_of(f);
    if (kind == KIND_NUMBER)
        for (size_t i = from; i < from + n; i++)
            ((double *)column)[i] = NAN;
    else if (kind == KIND_DATE || kind == KIND_TIME)
        for (size_t i = from; i < from + n; i++)
            ((int32_t *)column)[i] = WHEN_UNKNOWN;
    else
        memset((char *)column + from * width(t, f), 0, n * width(t, f));
}

void *transfers_own(Transfers *t, FieldId f) {
    if (!owns(t, f)) {
        void *column = g_try_malloc(MAX(t->room, 1) * width(t, f));
        if (!column)
            return NULL;
        fill_unknown(t, column, f, 0, t->n);
        t->column[f] = column;
    }
    return t->column[f];
}

bool transfers_seal(Transfers *t) {
    if (!set_room(t, MAX(t->n, 1)))
        return false;
    for (int f = 0; f < FIELD_STORED; f++) {
        const FieldKind kind = kind_of((FieldId)f);
        if (t->column[f] || kind == KIND_DATE)
            continue;
        if (!t->unknown[kind]) {
            t->unknown[kind] = g_try_malloc0_n(MAX(t->n, 1), width(t, (FieldId)f));
            if (!t->unknown[kind])
                return false;
            if (kind == KIND_NUMBER || kind == KIND_TIME)
                fill_unknown(t, t->unknown[kind], (FieldId)f, 0, t->n);
        }
        t->column[f] = t->unknown[kind];
    }
    t->sealed = true;
    return true;
}

// Takes the shared columns away again, since more records come.
static void unseal(Transfers *t) {
    for (int f = 0; f < FIELD_STORED; f++)
        if (!owns(t, (FieldId)f))
            t->column[f] = NULL;
    for (int k = 0; k < TRANSFERS_WIDTHS; k++)
        g_clear_pointer(&t->unknown[k], g_free);
    t->sealed = false;
}

// Sets the value of a field in the last row; a column comes into being with its first known value.
// What is written at each kind of field is spelt out, so that no row asks what kind one is.
#define STORE(type, f, value, is_known)                                                            \
    if (t->column[f] || ((is_known) && transfers_own(t, f)))                                       \
        ((type *)t->column[f])[t->n] = (type)(value);                                              \
    else if (is_known)                                                                             \
        return false;
#define STORE_CODED(type, f) STORE(type, f, d->value[f], d->value[f] != 0)
#define STORE_DATED(f) STORE(int32_t, f, d->value[f], d->value[f] != WHEN_UNKNOWN)
#define STORE_ID(f)                                                                                \
    STORE(uint64_t, f, d->id[(f) == FIELD_episode_id], d->id[(f) == FIELD_episode_id] != 0)
#define STORE_UNIT(f) STORE_CODED(uint16_t, f)
#define STORE_CODE(f) STORE_CODED(uint8_t, f)
#define STORE_DATE(f) STORE_DATED(f)
#define STORE_TIME(f) STORE_DATED(f)
#define STORE_EVENTS(f) STORE_CODED(uint32_t, f)
#define STORE_NUMBER(f) STORE(double, f, d->distance_km, !isnan(d->distance_km))

static bool store(Transfers *t, const Draft *d) {
#define FIELD(name, kind, list, need, description)                                                 \
    if (NEED_##need != NEED_DERIVED) {                                                             \
        STORE_##kind(FIELD_##name)                                                                 \
    }
#include "record/fields.def"
    return true;
}

bool transfers_add(Transfers *t, const Draft *d) {
    if (t->sealed)
        unseal(t);
    if (!grow(t, t->n + 1) || !store(t, d))
        return false;
    t->file[t->n] = d->file;
    t->line[t->n] = d->line;
    t->n++;
    return true;
}

static void append_units(uint16_t *to, const uint16_t *from, size_t n, const uint16_t *index) {
    for (size_t i = 0; i < n; i++)
        to[i] = index[from[i]];
}

static void append_events(uint32_t *to, const uint32_t *from, size_t n, const uint32_t *index) {
    for (size_t i = 0; i < n; i++)
        to[i] = index[from[i]];
}

static uint16_t *unit_indices(Transfers *t, const Transfers *from) {
    uint16_t *index = g_new0(uint16_t, from->units->len);
    for (guint u = 1; u < from->units->len; u++)
        index[u] = transfers_unit(t, from->units->pdata[u], strlen(from->units->pdata[u]));
    return index;
}

static uint32_t *event_indices(Transfers *t, const Transfers *from) {
    const uint32_t *starts = (const uint32_t *)(void *)from->event_starts->data;
    uint32_t *index = g_new0(uint32_t, from->event_starts->len);
    for (guint l = 1; l + 1 < from->event_starts->len; l++)
        index[l] = transfers_events(
            t, from->events->len ? &g_array_index(from->events, Event, starts[l]) : NULL,
            starts[l + 1] - starts[l]);
    return index;
}

bool transfers_absorb(Transfers *t, const Transfers *from, uint16_t file, uint32_t line_base) {
    if (t->sealed)
        unseal(t);
    if (!grow(t, t->n + from->n))
        return false;
    for (int f = 0; f < FIELD_STORED; f++)
        if (from->column[f] && !transfers_own(t, (FieldId)f))
            return false;
    uint16_t *units = unit_indices(t, from);
    uint32_t *events = event_indices(t, from);
    for (int f = 0; f < FIELD_STORED; f++) {
        if (!t->column[f])
            continue;
        const size_t w = width(t, (FieldId)f);
        void *to = (char *)t->column[f] + t->n * w;
        if (!from->column[f])
            fill_unknown(t, t->column[f], (FieldId)f, t->n, from->n);
        else if (field_table[f].kind == KIND_UNIT)
            append_units(to, from->column[f], from->n, units);
        else if (field_table[f].kind == KIND_EVENTS)
            append_events(to, from->column[f], from->n, events);
        else
            memcpy(to, from->column[f], from->n * w);
    }
    for (size_t i = 0; i < from->n; i++) {
        t->file[t->n + i] = file;
        t->line[t->n + i] = from->line[i] + line_base;
    }
    t->n += from->n;
    g_free(units);
    g_free(events);
    return true;
}

void transfers_set_other(Transfers *t, size_t row, uint16_t file, uint32_t line) {
    if (!t->other_line) {
        t->other_file = g_new0(uint16_t, t->n);
        t->other_line = g_new0(uint32_t, t->n);
    }
    t->other_file[row] = file;
    t->other_line[row] = line;
}

void transfers_truncate(Transfers *t, size_t n, guint n_units) {
    t->n = n;
    while (t->units->len > n_units) {
        const guint last = t->units->len - 1;
        g_hash_table_remove(t->unit_index, t->units->pdata[last]);
        g_ptr_array_set_size(t->units, (gint)last);
    }
    t->units_full = false;
}

void transfers_empty(Transfers *t) {
    const uint32_t zero = 0;
    transfers_truncate(t, 0, 1);
    g_hash_table_remove_all(t->event_index);
    g_array_set_size(t->events, 0);
    g_array_set_size(t->event_starts, 1);
    g_array_append_val(t->event_starts, zero);
}

static void keep_in(void *column, size_t bytes, size_t n, const uint8_t *keep) {
    char *c = column;
    size_t to = 0;
    for (size_t i = 0; c && i < n; i++)
        if (keep[i]) {
            if (to != i)
                memcpy(c + to * bytes, c + i * bytes, bytes);
            to++;
        }
}

void transfers_keep(Transfers *t, const uint8_t *keep) {
    for (int f = 0; f < FIELD_COUNT; f++)
        if (owns(t, (FieldId)f))
            keep_in(t->column[f], width(t, (FieldId)f), t->n, keep);
    keep_in(t->file, sizeof *t->file, t->n, keep);
    keep_in(t->line, sizeof *t->line, t->n, keep);
    keep_in(t->other_file, sizeof *t->other_file, t->n, keep);
    keep_in(t->other_line, sizeof *t->other_line, t->n, keep);
    size_t n = 0;
    for (size_t i = 0; i < t->n; i++)
        n += keep[i] != 0;
    t->n = n;
}

void transfers_drop_ids(Transfers *t) {
    for (int f = 0; f < FIELD_STORED; f++) {
        if (field_table[f].kind != KIND_ID || !owns(t, (FieldId)f))
            continue;
        const uint64_t *id = t->column[f];
        uint8_t *known_at = t->column[f]; // its bytes lie at or before those of the id just read
        for (size_t i = 0; i < t->n; i++)
            known_at[i] = id[i] != 0;
        t->column[f] = g_realloc(t->column[f], MAX(t->n, 1));
    }
    t->ids_dropped = true;
}

uint16_t transfers_unit(Transfers *t, const char *code, size_t length) {
    char name[256];
    if (length >= sizeof name)
        return 0;
    memcpy(name, code, length);
    name[length] = 0;
    gpointer index = g_hash_table_lookup(t->unit_index, name);
    if (index)
        return (uint16_t)GPOINTER_TO_UINT(index);
    if (t->units->len > UINT16_MAX) {
        t->units_full = true;
        return 0;
    }
    char *own = g_strdup(name);
    g_hash_table_insert(t->unit_index, own, GUINT_TO_POINTER(t->units->len));
    g_ptr_array_add(t->units, own);
    return (uint16_t)(t->units->len - 1);
}

uint32_t transfers_events(Transfers *t, const Event *events, size_t n) {
    GBytes *key = g_bytes_new(events, n * sizeof *events);
    gpointer index = g_hash_table_lookup(t->event_index, key);
    if (index) {
        g_bytes_unref(key);
        return GPOINTER_TO_UINT(index);
    }
    const uint32_t own = t->event_starts->len - 1;
    g_array_append_vals(t->events, events, (guint)n);
    const uint32_t end = t->events->len;
    g_array_append_val(t->event_starts, end);
    g_hash_table_insert(t->event_index, key, GUINT_TO_POINTER(own));
    return own;
}

const Event *transfers_event_list(const Transfers *t, uint32_t list, size_t *n) {
    const uint32_t *starts = (const uint32_t *)(void *)t->event_starts->data;
    *n = starts[list + 1] - starts[list];
    return *n == 0 ? NULL : (const Event *)(void *)t->events->data + starts[list];
}

const Event *transfers_events_of(const Transfers *t, size_t row, size_t *n) {
    return transfers_event_list(t, ((const uint32_t *)t->column[FIELD_events])[row], n);
}

int32_t transfers_day(const Transfers *t, size_t row, const Network *network) {
    const int32_t requested = transfers_times(t, FIELD_requested_at)[row];
    if (requested != WHEN_UNKNOWN)
        return when_day_of(when_to_local(network->zone, requested));
    const int32_t date = transfers_date(t, FIELD_transfer_date, row);
    if (date != WHEN_UNKNOWN)
        return date;
    return when_day_of(when_to_local(network->zone, transfers_times(t, FIELD_departed_at)[row]));
}

int32_t transfers_minutes(const Transfers *t, size_t row, FieldId from, FieldId to, int32_t cap) {
    return transfers_between(transfers_times(t, from)[row], transfers_times(t, to)[row], cap);
}
