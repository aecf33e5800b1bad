// SPDX-License-Identifier: GPL-3.0-or-later
// Which files the LOG arguments name.
#include "intake/inputs.h"

#include "intake/reader.h"

#include <string.h>

static void free_input(gpointer data) {
    Input *in = data;
    g_free(in->path);
    g_free(in->name);
    g_free(in->sha256);
    g_free(in->keeper);
    g_free(in->encoding);
    g_free(in->masks);
    if (in->words)
        g_hash_table_unref(in->words);
    if (in->spool)
        fclose(in->spool);
    g_free(in);
}

static void add(GPtrArray *inputs, const char *path, const char *name) {
    Input *in = g_new0(Input, 1);
    in->path = g_strdup(path);
    in->name = g_strdup(name);
    in->received = WHEN_UNKNOWN;
    g_ptr_array_add(inputs, in);
}

static int by_name(gconstpointer a, gconstpointer b) {
    return strcmp(*(char *const *)a, *(char *const *)b);
}

// Adds every *.csv below the folder, folders and files in name order; below is the path inside the
// given LOG.
static bool add_folder(GPtrArray *inputs, const char *folder, const char *below, GError **error) {
    GDir *dir = g_dir_open(folder, 0, error);
    if (!dir)
        return false;
    GPtrArray *names = g_ptr_array_new_with_free_func(g_free);
    for (const char *name; (name = g_dir_read_name(dir));)
        g_ptr_array_add(names, g_strdup(name));
    g_dir_close(dir);
    g_ptr_array_sort(names, by_name);
    bool good = true;
    for (guint i = 0; good && i < names->len; i++) {
        char *path = g_build_filename(folder, names->pdata[i], NULL);
        char *name =
            *below ? g_build_filename(below, names->pdata[i], NULL) : g_strdup(names->pdata[i]);
        if (g_file_test(path, G_FILE_TEST_IS_DIR))
            good =
                g_file_test(path, G_FILE_TEST_IS_SYMLINK) || add_folder(inputs, path, name, error);
        else if (g_str_has_suffix(name, ".csv"))
            add(inputs, path, name);
        g_free(path);
        g_free(name);
    }
    g_ptr_array_unref(names);
    return good;
}

GPtrArray *inputs_find(char **logs, GError **error) {
    GPtrArray *inputs = g_ptr_array_new_with_free_func(free_input);
    bool good = true;
    for (char **log = logs; good && *log; log++) {
        char *base = g_path_get_basename(*log);
        if (g_file_test(*log, G_FILE_TEST_IS_DIR))
            good = add_folder(inputs, *log, "", error);
        else
            add(inputs, *log, base);
        g_free(base);
    }
    if (good && inputs->len == 0)
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT, "%s: no *.csv file in there", logs[0]);
    if (good && inputs->len > 0 && inputs->len <= UINT16_MAX)
        return inputs;
    g_ptr_array_unref(inputs);
    return NULL;
}
