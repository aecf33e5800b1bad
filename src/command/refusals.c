// SPDX-License-Identifier: GPL-3.0-or-later
// Refused logs, put so that their reader sees what to do.
#include "command/refusals.h"

#include <stdbool.h>
#include <string.h>

char *refusals_line(const char *message) {
    char **parts = g_strsplit(message, "\n", 2);
    char *line = g_strjoinv("; ", parts);
    g_strfreev(parts);
    return line;
}

// Adds a line unless the text has it already.
static void add_once(GString *text, const char *line) {
    char **lines = g_strsplit(text->str, "\n", -1);
    if (!g_strv_contains((const char *const *)lines, line))
        g_string_append_printf(text, "\n%s", line);
    g_strfreev(lines);
}

char *refusals_text(const GPtrArray *messages) {
    if (messages->len == 1)
        return refusals_line(messages->pdata[0]);
    GString *text = g_string_new(NULL), *advice = g_string_new(NULL);
    for (guint i = 0; i < messages->len; i++) {
        char **parts = g_strsplit(messages->pdata[i], "\n", 2);
        g_string_append_printf(text, "%s%s", i > 0 ? "\n" : "", parts[0]);
        if (parts[1])
            add_once(advice, parts[1]);
        g_strfreev(parts);
    }
    g_string_append(text, advice->str);
    g_string_free(advice, TRUE);
    return g_string_free(text, FALSE);
}

static int by_name(gconstpointer a, gconstpointer b) {
    return strcmp(*(char *const *)a, *(char *const *)b);
}

// Paths of what lies in a folder, in name order.
static GPtrArray *paths_in(const char *folder) {
    GPtrArray *paths = g_ptr_array_new_with_free_func(g_free);
    GDir *dir = g_dir_open(folder, 0, NULL);
    for (const char *name; dir && (name = g_dir_read_name(dir));)
        g_ptr_array_add(paths, g_build_filename(folder, name, NULL));
    if (dir)
        g_dir_close(dir);
    g_ptr_array_sort(paths, by_name);
    return paths;
}

static bool is_network(const char *folder) {
    char *path = g_build_filename(folder, "network.ini", NULL);
    const bool is = g_file_test(path, G_FILE_TEST_IS_REGULAR);
    g_free(path);
    return is;
}

static bool has_logs(const char *folder) {
    GPtrArray *paths = paths_in(folder);
    bool any = false;
    for (guint i = 0; i < paths->len; i++)
        any = any || g_str_has_suffix(paths->pdata[i], ".csv");
    g_ptr_array_unref(paths);
    return any;
}

// The one folder in a folder that a test is true of, the network's apart; NULL if there is none, or
// more than one. Free with g_free.
static char *only_folder(const char *folder, const char *network, bool (*is)(const char *)) {
    GPtrArray *paths = paths_in(folder);
    const char *found = NULL;
    guint n = 0;
    for (guint i = 0; i < paths->len; i++) {
        const char *path = paths->pdata[i];
        if (g_strcmp0(path, network) == 0 || !g_file_test(path, G_FILE_TEST_IS_DIR) || !is(path))
            continue;
        found = path;
        n++;
    }
    char *only = n == 1 ? g_strdup(found) : NULL;
    g_ptr_array_unref(paths);
    return only;
}

static char *joined(const GPtrArray *names) {
    GString *text = g_string_new(NULL);
    for (guint i = 0; i < names->len; i++)
        g_string_append_printf(text, "%s%s", i > 0 ? ", " : "", (const char *)names->pdata[i]);
    return g_string_free(text, FALSE);
}

char *refusals_meant(char **logs, const GPtrArray *messages, const GPtrArray *names) {
    char *network = NULL, *place = NULL;
    for (char **log = logs; *log && !network; log++) {
        network = is_network(*log) ? g_strdup(*log) : only_folder(*log, NULL, is_network);
        place = network ? only_folder(*log, network, has_logs) : NULL;
    }
    if (!network)
        return NULL;
    const bool several = messages->len > 1;
    char *rest = several ? joined(names) : refusals_text(messages);
    char *text = g_strdup_printf(
        "%s holds a network.ini: give --network %s, and %s%s; without it %s refused: %s", network,
        network, place ? place : "name the logs alone", place ? " for the logs" : "",
        several ? "these are" : "this is", rest);
    g_free(rest);
    g_free(place);
    g_free(network);
    return text;
}
