// SPDX-License-Identifier: GPL-3.0-or-later
// A table of texts by what makes a group: field, code, and part of which mix.
#include "pack/groups.h"

#include "measure/plainly.h"
#include "pack/words.h"

struct Groups {
    const Estimates *e;
    const Network *network;
    GHashTable *texts; // by key_of, a string each
};

// The lower half is what the table hashes by.
static gpointer key_of(const Estimates *e, const Estimate *r) {
    const Indicator *i = e->catalogue->pdata[r->indicator];
    const guint64 mix = r->part ? (guint64)i->field + 1 : 0;
    return GSIZE_TO_POINTER((guint64)r->group | (guint64)(uint8_t)r->part << 16 |
                            (guint64)r->by << 24 | (guint64)(r->part >> 8) << 32 | mix << 40);
}

static void add(GString *text, const Groups *g, FieldId f, uint16_t value) {
    char *field = f == FIELD_events ? g_strdup("event") : words_field(f);
    char *code = value == 0 ? g_strdup("not known")
                 : field_table[f].kind == KIND_UNIT
                     ? g_strdup(network_unit_name(g->network, g->e->t->units->pdata[value]))
                     : plainly_code(field_code_text(field_table[f].codes, value));
    g_string_append_printf(text, "%s%s: %s", text->len ? "; " : "", field, code);
    g_free(code);
    g_free(field);
}

static char *words_of(const Groups *g, const Estimate *r) {
    GString *text = g_string_new(NULL);
    if (r->by < FIELD_COUNT)
        add(text, g, r->by, r->group);
    if (r->part)
        add(text, g, ((const Indicator *)g->e->catalogue->pdata[r->indicator])->field, r->part);
    if (text->len == 0)
        g_string_append(text, "all");
    return g_string_free(text, FALSE);
}

Groups *groups_new(const Estimates *e, const Network *network) {
    Groups *g = g_new(Groups, 1);
    *g = (Groups){e, network, g_hash_table_new_full(g_direct_hash, g_direct_equal, NULL, g_free)};
    return g;
}

void groups_free(Groups *g) {
    g_hash_table_unref(g->texts);
    g_free(g);
}

const char *groups_text(Groups *g, const Estimate *r) {
    void *const key = key_of(g->e, r);
    char *text = g_hash_table_lookup(g->texts, key);
    if (!text) {
        text = g->network ? words_of(g, r) : estimate_group(g->e, r);
        g_hash_table_insert(g->texts, key, text);
    }
    return text;
}
