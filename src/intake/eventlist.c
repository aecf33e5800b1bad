// SPDX-License-Identifier: GPL-3.0-or-later
// Lists of events, taken apart.
#include "intake/eventlist.h"

#include "intake/vocabulary.h"
#include "record/field.h"

#include <string.h>

// category or category:harm, as we write them.
static bool is_event(const char *item) {
    char **part = g_strsplit(item, ":", 2);
    const bool good = *part &&
                      field_code(field_table[FIELD_events].codes, part[0], strlen(part[0])) &&
                      (!part[1] || field_code(&field_harm, part[1], strlen(part[1])));
    g_strfreev(part);
    return good;
}

static char **split(const char *cell, char separator) {
    const char sign[] = {separator, 0};
    char **items = g_strsplit(cell, sign, -1);
    for (char **item = items; *item; item++)
        g_strstrip(*item);
    return items;
}

bool eventlist_is(const char *cell, char separator) {
    char **items = split(cell, separator);
    bool good = *items != NULL;
    for (char **item = items; good && *item; item++)
        good = is_event(*item) || !g_ascii_strcasecmp(*item, "none");
    g_strfreev(items);
    return good;
}

// Whether a cell lists two events or more with that sign between them.
static bool parts(const char *cell, char separator) {
    if (!strchr(cell, separator))
        return false;
    double fit;
    char **items = split(cell, separator);
    bool good = true;
    for (char **item = items; good && *item; item++)
        good = is_event(*item) ||
               (vocabulary_value(field_table[FIELD_events].codes, *item, &fit) != 0 && fit >= 0.9);
    g_strfreev(items);
    return good;
}

char eventlist_separator(const GPtrArray *cells) {
    static const char signs[] = ";+,/|&";
    guint most = 0;
    char best = ';';
    for (const char *sign = signs; *sign; sign++) {
        guint n = 0;
        for (guint i = 0; i < cells->len; i++)
            n += parts(cells->pdata[i], *sign);
        if (n > most) {
            most = n;
            best = *sign;
        }
    }
    return best;
}

GPtrArray *eventlist_items(const GPtrArray *cells, char separator) {
    GPtrArray *list = g_ptr_array_new_with_free_func(g_free);
    GHashTable *seen = g_hash_table_new(g_str_hash, g_str_equal);
    for (guint i = 0; i < cells->len; i++) {
        char **items = split(cells->pdata[i], separator);
        for (char **item = items; *item; item++)
            if (**item && !g_hash_table_contains(seen, *item)) {
                g_ptr_array_add(list, g_strdup(*item));
                g_hash_table_add(seen, g_ptr_array_index(list, list->len - 1));
            }
        g_strfreev(items);
    }
    g_hash_table_unref(seen);
    return list;
}
