// SPDX-License-Identifier: GPL-3.0-or-later
// The column store.
#include "record/transfers.h"

#include <math.h>
#include <string.h>

static size_t width(FieldId f) {
    if (f >= FIELD_STORED)
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

void transfers_free(Transfers *t) {
    if (!t)
        return;
    for (int f = 0; f < FIELD_COUNT; f++)
        g_free(t->column[f]);
    g_free(t->file);
    g_free(t->line);
    g_hash_table_unref(t->unit_index);
    g_ptr_array_unref(t->units);
    g_array_unref(t->events);
    g_array_unref(t->event_starts);
    g_hash_table_unref(t->event_index);
    g_free(t);
}

void transfers_clear_draft(Draft *draft) {
    memset(draft, 0, sizeof *draft);
    draft->distance_km = NAN;
    for (int f = 0; f < FIELD_STORED; f++)
        if (field_table[f].kind == KIND_DATE || field_table[f].kind == KIND_TIME)
            draft->value[f] = WHEN_UNKNOWN;
}

static bool grow_one(void *at, size_t bytes) {
    void *old, *bigger;
    memcpy(&old, at, sizeof old);
    bigger = g_try_realloc(old, bytes);
    if (bigger)
        memcpy(at, &bigger, sizeof bigger);
    return bigger != NULL;
}

static bool grow(Transfers *t) {
    const size_t room = t->room + t->room / 2 + 4096;
    for (int f = 0; f < FIELD_STORED; f++)
        if (!grow_one(&t->column[f], room * width((FieldId)f)))
            return false;
    if (!grow_one(&t->file, room * sizeof *t->file) || !grow_one(&t->line, room * sizeof *t->line))
        return false;
    t->room = room;
    return true;
}

static void store(void *column, size_t row, FieldId f, const Draft *d) {
    switch (field_table[f].kind) {
    case KIND_ID:
        ((uint64_t *)column)[row] = d->id[f == FIELD_episode_id];
        break;
    case KIND_UNIT:
        ((uint16_t *)column)[row] = (uint16_t)d->value[f];
        break;
    case KIND_CODE:
        ((uint8_t *)column)[row] = (uint8_t)d->value[f];
        break;
    case KIND_EVENTS:
        ((uint32_t *)column)[row] = (uint32_t)d->value[f];
        break;
    case KIND_NUMBER:
        ((double *)column)[row] = d->distance_km;
        break;
    case KIND_DATE:
    case KIND_TIME:
        ((int32_t *)column)[row] = (int32_t)d->value[f];
        break;
    }
}

bool transfers_add(Transfers *t, const Draft *d) {
    if (t->n == t->room && !grow(t))
        return false;
    for (int f = 0; f < FIELD_STORED; f++)
        store(t->column[f], t->n, (FieldId)f, d);
    t->file[t->n] = d->file;
    t->line[t->n] = d->line;
    t->n++;
    return true;
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
        keep_in(t->column[f], width((FieldId)f), t->n, keep);
    keep_in(t->file, sizeof *t->file, t->n, keep);
    keep_in(t->line, sizeof *t->line, t->n, keep);
    size_t n = 0;
    for (size_t i = 0; i < t->n; i++)
        n += keep[i] != 0;
    t->n = n;
}

uint16_t transfers_unit(Transfers *t, const char *code, size_t length) {
    char name[256];
    if (length >= sizeof name)
        return 0;
    memcpy(name, code, length);
    name[length] = 0;
    gpointer index = g_hash_table_lookup(t->unit_index, name);
    if (index || t->units->len > UINT16_MAX)
        return (uint16_t)GPOINTER_TO_UINT(index);
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

const Event *transfers_events_of(const Transfers *t, size_t row, size_t *n) {
    const uint32_t list = ((const uint32_t *)t->column[FIELD_events])[row];
    const uint32_t *starts = (const uint32_t *)(void *)t->event_starts->data;
    *n = starts[list + 1] - starts[list];
    return *n == 0 ? NULL : (const Event *)(void *)t->events->data + starts[list];
}

int32_t transfers_day(const Transfers *t, size_t row, const Network *network) {
    const int32_t requested = transfers_times(t, FIELD_requested_at)[row];
    if (requested != WHEN_UNKNOWN)
        return when_day_of(when_to_local(network->zone, requested));
    const int32_t date = transfers_times(t, FIELD_transfer_date)[row];
    if (date != WHEN_UNKNOWN)
        return date;
    return when_day_of(when_to_local(network->zone, transfers_times(t, FIELD_departed_at)[row]));
}

int32_t transfers_minutes(const Transfers *t, size_t row, FieldId from, FieldId to, int32_t cap) {
    const int32_t a = transfers_times(t, from)[row], b = transfers_times(t, to)[row];
    if (a == WHEN_UNKNOWN || b == WHEN_UNKNOWN || b < a || b - a > cap)
        return -1;
    return b - a;
}
