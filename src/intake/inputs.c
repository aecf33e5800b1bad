// SPDX-License-Identifier: GPL-3.0-or-later
// Which files the LOG arguments name.
#include "intake/inputs.h"

#include "base/ours.h"
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
    in->name = in->hides ? g_strdup_printf("[masked %u].csv", inputs->len + 1)
                         : g_utf8_make_valid(name, -1);
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

// A walk through the folders that LOG arguments name.
typedef struct {
    GPtrArray *inputs;
    GPtrArray *passed; // char *: what was passed over, and why
    GHashTable *seen;  // folders, by what they are on the disk
} Walk;

static bool ends_with(const char *name, const char *ending) {
    const size_t n = strlen(name), m = strlen(ending);
    return n >= m && !g_ascii_strcasecmp(name + n - m, ending);
}

// Whether a file beside logs may be a log that is no CSV.
static bool may_be_table(const char *name) {
    static const char *const endings[] = {".xlsx", ".xlsm", ".xls", ".ods", ".tsv", ".txt"};
    bool is = false;
    for (size_t i = 0; i < G_N_ELEMENTS(endings); i++)
        is = is || ends_with(name, endings[i]);
    return is;
}

// What a folder is on the disk, however it is named; free with g_free.
static char *disk_key(const char *folder) {
    GStatBuf about;
    return g_stat(folder, &about) == 0
               ? g_strdup_printf("%ju:%ju", (uintmax_t)about.st_dev, (uintmax_t)about.st_ino)
               : NULL;
}

// Names of what lies in a folder, in order; NULL and an error if it can't be read.
static GPtrArray *names_in(const char *folder, GError **error) {
    GDir *dir = g_dir_open(folder, 0, error);
    if (!dir)
        return NULL;
    GPtrArray *names = g_ptr_array_new_with_free_func(g_free);
    for (const char *name; (name = g_dir_read_name(dir));)
        g_ptr_array_add(names, g_strdup(name));
    g_dir_close(dir);
    g_ptr_array_sort(names, by_name);
    return names;
}

// Notes the folder and those below it that need no link to be reached, so that a link to one of
// them reads nothing twice.
static bool see(Walk *walk, const char *folder, GError **error) {
    GPtrArray *names = names_in(folder, error);
    bool good = names != NULL;
    for (guint i = 0; good && i < names->len; i++) {
        char *path = g_build_filename(folder, names->pdata[i], NULL);
        if (!g_file_test(path, G_FILE_TEST_IS_SYMLINK) && g_file_test(path, G_FILE_TEST_IS_DIR))
            good = see(walk, path, error);
        g_free(path);
    }
    if (names)
        g_ptr_array_unref(names);
    char *key = disk_key(folder);
    if (key)
        g_hash_table_add(walk->seen, key);
    return good;
}

static bool add_folder(Walk *walk, const char *folder, const char *below, GError **error);

// A folder in a folder: an earlier run's holds no logs, one that a link leads to is read once.
static bool add_subfolder(Walk *walk, const char *path, const char *name, GError **error) {
    if (ours_is(path)) {
        g_ptr_array_add(walk->passed, g_strconcat(path, " is what an earlier run wrote", NULL));
        return true;
    }
    if (g_file_test(path, G_FILE_TEST_IS_SYMLINK)) {
        char *key = disk_key(path);
        const bool again = !key || g_hash_table_contains(walk->seen, key);
        g_free(key);
        if (again)
            return true;
        if (!see(walk, path, error))
            return false;
    }
    return add_folder(walk, path, name, error);
}

// Adds every *.csv below the folder, folders and files in name order; below is the path inside the
// given LOG.
static bool add_folder(Walk *walk, const char *folder, const char *below, GError **error) {
    GPtrArray *names = names_in(folder, error);
    bool good = names != NULL;
    for (guint i = 0; good && i < names->len; i++) {
        char *path = g_build_filename(folder, names->pdata[i], NULL);
        char *name =
            *below ? g_build_filename(below, names->pdata[i], NULL) : g_strdup(names->pdata[i]);
        if (g_file_test(path, G_FILE_TEST_IS_DIR))
            good = add_subfolder(walk, path, name, error);
        else if (ends_with(name, ".csv") && (good = is_file(path, error)))
            add(walk->inputs, path, name);
        else if (good && may_be_table(name))
            g_ptr_array_add(walk->passed,
                            g_strconcat(inputs_hides(name) == GUARD_NONE ? path : "[masked]",
                                        " is no *.csv; if it is a log, save it as CSV", NULL));
        g_free(path);
        g_free(name);
    }
    if (names)
        g_ptr_array_unref(names);
    return good;
}

static bool add_top(Walk *walk, const char *folder, GError **error) {
    if (ours_is(folder)) {
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT,
                    "%s: is what an earlier run wrote, no folder of logs", folder);
        return false;
    }
    g_hash_table_remove_all(walk->seen);
    return see(walk, folder, error) && add_folder(walk, folder, "", error);
}

static bool add_all(Walk *walk, char **logs, GError **error) {
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
            good = add_top(walk, *log, error);
        else
            add(walk->inputs, *log, base);
        g_free(base);
    }
    return good;
}

GPtrArray *inputs_find(char **logs, GPtrArray *passed, GError **error) {
    GPtrArray *inputs = g_ptr_array_new_with_free_func(free_input);
    Walk walk = {inputs, passed, g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL)};
    const bool good = add_all(&walk, logs, error);
    g_hash_table_unref(walk.seen);
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
