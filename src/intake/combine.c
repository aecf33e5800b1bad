// SPDX-License-Identifier: GPL-3.0-or-later
// Several cells -> one value.
#include "intake/combine.h"

#include <math.h>
#include <string.h>

static int64_t unknown(FieldId f) {
    const FieldKind kind = field_table[f].kind;
    return kind == KIND_TIME || kind == KIND_DATE ? WHEN_UNKNOWN : 0;
}

static CombineValue get(const CellRecord *r, FieldId f) {
    return (CombineValue){r->draft.value[f], r->draft.id[f == FIELD_episode_id],
                          r->draft.distance_km};
}

static void set(CellRecord *r, FieldId f, const CombineValue *v) {
    if (field_table[f].kind == KIND_ID)
        r->draft.id[f == FIELD_episode_id] = v->id;
    else if (field_table[f].kind == KIND_NUMBER)
        r->draft.distance_km = v->number;
    else
        r->draft.value[f] = v->value;
}

static bool known(FieldId f, const CombineValue *v) {
    if (field_table[f].kind == KIND_ID)
        return v->id != 0;
    if (field_table[f].kind == KIND_NUMBER)
        return !isnan(v->number);
    return v->value != unknown(f);
}

static bool equal(FieldId f, const CombineValue *a, const CombineValue *b) {
    if (field_table[f].kind == KIND_ID)
        return a->id == b->id;
    if (field_table[f].kind == KIND_NUMBER)
        return a->number >= b->number && a->number <= b->number;
    return a->value == b->value;
}

void combine_drop(CellRecord *r, FieldId f) {
    const CombineValue none = {unknown(f), 0, NAN};
    set(r, f, &none);
}

CombineValue combine_begin(CellRecord *r, FieldId f) {
    if (f >= FIELD_STORED) // harm, which is no value of its own
        return (CombineValue){0};
    const CombineValue before = get(r, f);
    combine_drop(r, f);
    return before;
}

static uint32_t join(Transfers *pool, uint32_t a, uint32_t b) {
    size_t n_a, n_b;
    const Event *list_a = transfers_event_list(pool, a, &n_a);
    const Event *list_b = transfers_event_list(pool, b, &n_b);
    if (n_a == 0 || n_b == 0)
        return n_a > 0 || b == 0 ? a : b;
    Event *both = g_new(Event, n_a + n_b);
    memcpy(both, list_a, n_a * sizeof *both);
    memcpy(both + n_a, list_b, n_b * sizeof *both);
    const uint32_t list = transfers_events(pool, both, n_a + n_b);
    g_free(both);
    return list;
}

void combine_end(CellRecord *r, Transfers *pool, FieldId f, const CombineValue *before) {
    if (f >= FIELD_STORED)
        return;
    const CombineValue now = get(r, f);
    if (f == FIELD_events)
        r->draft.value[f] = join(pool, (uint32_t)before->value, (uint32_t)now.value);
    else if (!known(f, &now))
        set(r, f, before);
    else if (known(f, before) && !equal(f, before, &now))
        r->clashing |= (uint64_t)1 << f;
}

uint32_t combine_grade(Transfers *pool, uint32_t list, uint8_t harm) {
    size_t n;
    const Event *events = transfers_event_list(pool, list, &n);
    Event *graded = g_memdup2(events, n * sizeof *events);
    for (size_t i = 0; i < n; i++)
        if (graded[i].harm == 0)
            graded[i].harm = harm;
    const uint32_t result = transfers_events(pool, graded, n);
    g_free(graded);
    return result;
}
