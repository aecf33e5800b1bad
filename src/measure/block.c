// SPDX-License-Identifier: GPL-3.0-or-later
// What is found of a block is kept until the block turns to other records.
#include "measure/block.h"

// One list of values each; turn: the block that it was found for, 0 = none yet.
typedef struct {
    unsigned turn;
    uint8_t value[COUNT_BLOCK];
} Codes;

typedef struct {
    unsigned turn;
    uint16_t value[COUNT_BLOCK];
} Values;

typedef struct {
    unsigned turn;
    uint32_t value[COUNT_BLOCK];
} Cells;

struct BlockParts {
    unsigned turn;          // of the block at hand
    GHashTable *conditions; // text -> Codes
    Cells units;
    Values *values[FIELD_COUNT];
    Cells *groups[FIELD_COUNT], *unit_groups[FIELD_COUNT];
};

Block *block_new(const CountData *data) {
    Block *b = g_new0(Block, 1);
    b->data = data;
    b->parts = g_new0(struct BlockParts, 1);
    b->parts->conditions = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, g_free);
    return b;
}

void block_free(Block *b) {
    g_hash_table_unref(b->parts->conditions);
    for (int f = 0; f < FIELD_COUNT; f++) {
        g_free(b->parts->values[f]);
        g_free(b->parts->groups[f]);
        g_free(b->parts->unit_groups[f]);
    }
    g_free(b->parts);
    g_free(b);
}

bool block_next(Block *b) {
    b->first += b->n;
    b->n = MIN((size_t)COUNT_BLOCK, b->data->t->n - b->first);
    b->parts->turn++;
    return b->n > 0;
}

// Whether a list is to be found anew.
static bool is_old(const Block *b, unsigned *turn) {
    const bool old = *turn != b->parts->turn;
    *turn = b->parts->turn;
    return old;
}

const uint8_t *block_condition(Block *b, const char *text, const Condition *condition) {
    Codes *c = g_hash_table_lookup(b->parts->conditions, text);
    if (!c) {
        c = g_new0(Codes, 1);
        g_hash_table_insert(b->parts->conditions, (gpointer)text, c);
    }
    if (is_old(b, &c->turn))
        condition_fill(condition, b->data->t, b->first, b->n, c->value);
    return c->value;
}

const uint16_t *block_values(Block *b, FieldId f) {
    Values **v = &b->parts->values[f];
    if (!*v)
        *v = g_new0(Values, 1);
    if (is_old(b, &(*v)->turn))
        for (size_t i = 0; i < b->n; i++)
            (*v)->value[i] = count_value(b->data->t, f, b->first + i);
    return (*v)->value;
}

const uint32_t *block_units(Block *b) {
    const CountData *d = b->data;
    const uint16_t *sender = transfers_units(d->t, FIELD_sending_unit) + b->first;
    const uint32_t months = (uint32_t)d->months;
    if (is_old(b, &b->parts->units.turn))
        for (size_t i = 0; i < b->n; i++)
            b->parts->units.value[i] = d->place[sender[i]] * months + d->month[b->first + i];
    return b->parts->units.value;
}

const uint32_t *block_groups(Block *b, FieldId f) {
    const CountData *d = b->data;
    const uint32_t months = (uint32_t)d->months;
    Cells **c = &b->parts->groups[f];
    if (!*c)
        *c = g_new0(Cells, 1);
    if (!is_old(b, &(*c)->turn))
        return (*c)->value;
    const uint16_t *value = block_values(b, f);
    for (size_t i = 0; i < b->n; i++)
        (*c)->value[i] = d->position[f][value[i]] * months + d->month[b->first + i];
    return (*c)->value;
}

const uint32_t *block_unit_groups(Block *b, FieldId f) {
    const CountData *d = b->data;
    const uint16_t *sender = transfers_units(d->t, FIELD_sending_unit) + b->first;
    const uint32_t groups = d->codes[f]->len, none = d->units->len * groups;
    Cells **c = &b->parts->unit_groups[f];
    if (!*c)
        *c = g_new0(Cells, 1);
    if (!is_old(b, &(*c)->turn))
        return (*c)->value;
    const uint16_t *value = block_values(b, f);
    for (size_t i = 0; i < b->n; i++) {
        const bool inside = d->slot[PERIOD_ALL][d->month[b->first + i]] >= 0;
        const uint32_t own = d->place[sender[i]] * groups + d->position[f][value[i]];
        (*c)->value[i] = inside ? own : none;
    }
    return (*c)->value;
}
