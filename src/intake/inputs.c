// SPDX-License-Identifier: GPL-3.0-or-later
// Which files the LOG arguments name.
#include "intake/inputs.h"

#include "intake/reader.h"
#include "record/field.h"

#include <glib/gstdio.h>
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

enum { RECENT = 1990 }; // an earlier date in a name may be somebody's birth

GuardKind inputs_hides(const char *name) {
    char *words = g_strdelimit(g_strdup(name), "_/", ' ');
    const size_t length = strlen(words);
    const unsigned year = guard_look(words, length).year;
    GuardKind kind = guard_cell(words, length);
    if (kind == GUARD_NONE && year > 0 && year < RECENT)
        kind = GUARD_BIRTH;
    if (kind == GUARD_NONE)
        kind = guard_cell(g_strdelimit(words, "-", ' '), length);
    g_free(words);
    return kind;
}

static void add(GPtrArray *inputs, const char *path, const char *name) {
    Input *in = g_new0(Input, 1);
    in->path = g_strdup(path);
    const GuardKind kind = inputs_hides(name);
    in->hides = kind == GUARD_NONE ? NULL : guard_word(kind);
    in->name = in->hides ? g_strdup_printf("[masked %u].csv", inputs->len + 1) : g_strdup(name);
    in->received = WHEN_UNKNOWN;
    g_ptr_array_add(inputs, in);
}

static int by_name(gconstpointer a, gconstpointer b) {
    return strcmp(*(char *const *)a, *(char *const *)b);
}

// A pipe or a device that lies in a folder might never end; whoever means it names it.
static bool is_file(const char *path, GError **error) {
    const bool other =
        g_file_test(path, G_FILE_TEST_EXISTS) && !g_file_test(path, G_FILE_TEST_IS_REGULAR);
    if (other)
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT,
                    "%s: is no ordinary file; to read it, name it by itself", path);
    return !other;
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
        else if (g_str_has_suffix(name, ".csv") && (good = is_file(path, error)))
            add(inputs, path, name);
        g_free(path);
        g_free(name);
    }
    g_ptr_array_unref(names);
    return good;
}

GPtrArray *inputs_find(char **logs, GError **error) {
    GPtrArray *inputs = g_ptr_array_new_with_free_func(free_input);
    bool good = true, standard = false;
    for (char **log = logs; good && *log; log++) {
        const bool again = standard && !strcmp(*log, "-");
        standard = standard || !strcmp(*log, "-");
        char *base = g_path_get_basename(*log);
        if (again)
            g_set_error(error, READER_ERROR, READER_ERROR_INPUT,
                        "-: standard input can be read only once"),
                good = false;
        else if (g_file_test(*log, G_FILE_TEST_IS_DIR))
            good = add_folder(inputs, *log, "", error);
        else
            add(inputs, *log, base);
        g_free(base);
    }
    if (good && inputs->len == 0)
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT, "%s: no *.csv file in there", logs[0]);
    else if (good && inputs->len > UINT16_MAX)
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT,
                    "%u files are too many at once: %u can be read", inputs->len, UINT16_MAX);
    if (good && inputs->len > 0 && inputs->len <= UINT16_MAX)
        return inputs;
    g_ptr_array_unref(inputs);
    return NULL;
}

bool inputs_include(const GPtrArray *inputs, const char *path) {
    GStatBuf this, that;
    if (g_stat(path, &this) != 0)
        return false;
    for (guint i = 0; i < inputs->len; i++)
        if (g_stat(((const Input *)inputs->pdata[i])->path, &that) == 0 &&
            this.st_dev == that.st_dev && this.st_ino == that.st_ino)
            return true;
    return false;
}

const char *inputs_own_name(const Input *input) {
    return input->hides ? input->path : input->name;
}

void inputs_say_name(const Input *input, uint32_t file, Findings *findings) {
    if (!input->hides)
        return;
    const Finding f = {
        .file = file,
        .field = FIELD_COUNT,
        .severity = SEVERITY_NOTE,
        .code = "file-name",
        .message = finding_text(findings, "the file's name seems to hold %s, so outputs call it %s",
                                input->hides, input->name)};
    finding_add(findings, &f, NULL, 0);
}
