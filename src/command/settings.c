// SPDX-License-Identifier: GPL-3.0-or-later
// Gathers the settings from options, network.ini and the files beside it.
#include "command/settings.h"

#include "base/embed.h"
#include "intake/logsettings.h"

#include <string.h>

void settings_add(GPtrArray *list, const char *key, char *value) {
    g_ptr_array_insert(list, (gint)list->len - 1, g_strdup(key));
    g_ptr_array_insert(list, (gint)list->len - 1, value);
}

bool settings_add_file(GPtrArray *list, const Network *network, const char *name, GError **error) {
    char *path =
             g_path_is_absolute(name) ? g_strdup(name) : g_build_filename(network->dir, name, NULL),
         *base = g_path_get_basename(name), *key = g_strconcat("sha256.", base, NULL), *text;
    gsize length;
    GError *why = NULL;
    bool known = false;
    for (guint i = 0; i + 1 < list->len; i += 2)
        known = known || !strcmp(list->pdata[i], key);
    if (!known && g_file_get_contents(path, &text, &length, &why)) {
        settings_add(list, key,
                     g_compute_checksum_for_data(G_CHECKSUM_SHA256, (const guchar *)text, length));
        g_free(text);
    }
    g_free(path);
    g_free(base);
    g_free(key);
    if (g_error_matches(why, G_FILE_ERROR, G_FILE_ERROR_NOENT))
        g_clear_error(&why);
    if (why)
        g_propagate_error(error, why);
    return !why;
}

// The keys of one [log ...] section.
static bool add_section(GPtrArray *list, const Network *network, const char *group,
                        GError **error) {
    char **keys = g_key_file_get_keys(network->keys, group, NULL, NULL);
    bool good = true;
    for (char **key = keys; good && key && *key; key++) {
        const bool hides = inputs_hides(group) != GUARD_NONE;
        char *name = g_strconcat(hides ? "log [masked]" : group, ".", *key, NULL);
        char *value = g_strstrip(g_key_file_get_value(network->keys, group, *key, NULL));
        const bool mapping = !strcmp(*key, "mapping");
        if (mapping)
            good = settings_add_file(list, network, value, error);
        settings_add(list, name,
                     mapping && g_path_is_absolute(value) ? g_path_get_basename(value)
                                                          : g_strdup(value));
        g_free(value);
        g_free(name);
    }
    g_strfreev(keys);
    return good;
}

// The sections that the inputs match, each once.
static bool add_sections(GPtrArray *list, const Session *a, GError **error) {
    GHashTable *seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    bool good = true;
    for (guint i = 0; good && i < a->inputs->len; i++) {
        char *group = logsettings_group(a->network, inputs_own_name(a->inputs->pdata[i]));
        if (group && g_hash_table_add(seen, group))
            good = add_section(list, a->network, group, error);
    }
    g_hash_table_unref(seen);
    return good;
}

GPtrArray *settings_list(const Session *a, const SessionOptions *o, GError **error) {
    static const char *const files[] = {"network.ini", "units.csv", "indicators.csv"};
    char confidence[G_ASCII_DTOSTR_BUF_SIZE];
    GPtrArray *list = g_ptr_array_new_with_free_func(g_free);
    g_ptr_array_add(list, NULL);
    g_ascii_formatd(confidence, sizeof confidence, "%.12g", o->confidence);
    settings_add(list, "confidence", g_strdup(confidence));
    settings_add(list, "period", g_strdup(o->period ? o->period : "all"));
    settings_add(list, "skip_refused", g_strdup(o->skip_refused ? "yes" : "no"));
    if (o->suppress)
        settings_add(list, "suppress", g_strdup_printf("%d", o->suppress));
    g_ptr_array_set_size(list, (gint)list->len - 1);
    network_settings(a->network, list);
    g_ptr_array_add(list, NULL);
    settings_add(
        list, "sha256.built-in indicators.csv",
        g_compute_checksum_for_string(G_CHECKSUM_SHA256, embed_text("indicators.csv"), -1));
    bool good = true;
    for (size_t i = 0; good && a->network->dir && i < G_N_ELEMENTS(files); i++)
        good = settings_add_file(list, a->network, files[i], error);
    if (good && (!a->network->dir || add_sections(list, a, error)))
        return list;
    g_ptr_array_unref(list);
    return NULL;
}
