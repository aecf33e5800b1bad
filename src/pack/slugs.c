// SPDX-License-Identifier: GPL-3.0-or-later
// Names of the files of units' pages.
#include "pack/slugs.h"

#include <stdbool.h>
#include <string.h>

#define LONGEST_SLUG 40

static char *slug_of(const char *code) {
    static const char *const reserved[] = {"con", "prn", "aux", "nul"};
    GString *slug = g_string_new(NULL);
    for (const char *p = code; *p && slug->len < LONGEST_SLUG - 5; p++) {
        const char c = g_ascii_tolower(*p);
        if (g_ascii_isalnum(c))
            g_string_append_c(slug, c);
        else if (slug->len > 0 && slug->str[slug->len - 1] != '-')
            g_string_append_c(slug, '-');
    }
    while (slug->len > 0 && slug->str[slug->len - 1] == '-')
        g_string_truncate(slug, slug->len - 1);
    bool refused = slug->len == 0 ||
                   (slug->len == 4 && g_ascii_isdigit(slug->str[3]) &&
                    (g_str_has_prefix(slug->str, "com") || g_str_has_prefix(slug->str, "lpt")));
    for (unsigned i = 0; i < G_N_ELEMENTS(reserved); i++)
        refused = refused || strcmp(slug->str, reserved[i]) == 0;
    if (refused)
        g_string_prepend(slug, slug->len ? "unit-" : "unit");
    return g_string_free(slug, FALSE);
}

GPtrArray *slugs_of(const Source *s) {
    GPtrArray *slugs = g_ptr_array_new_with_free_func(g_free);
    GHashTable *taken = g_hash_table_new(g_str_hash, g_str_equal); // of slugs' own strings
    for (guint u = 1; u < s->e->units->len; u++) {
        char *slug = slug_of(s->e->t->units->pdata[g_array_index(s->e->units, uint16_t, u)]);
        for (guint n = 2; g_hash_table_contains(taken, slug); n++) {
            char *base = slug_of(s->e->t->units->pdata[g_array_index(s->e->units, uint16_t, u)]);
            g_free(slug);
            slug = g_strdup_printf("%s-%u", base, n);
            g_free(base);
        }
        g_ptr_array_add(slugs, slug);
        g_hash_table_add(taken, slug);
    }
    g_hash_table_unref(taken);
    return slugs;
}
