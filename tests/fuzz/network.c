// SPDX-License-Identifier: GPL-3.0-or-later
// Any network.ini, mapping, units.csv and log together to `crossward check`: the settings are
// refused with a reason, or the log is read by them or refused. The four files are parted by lines
// of %%.
#include "command/command.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int LLVMFuzzerInitialize(int *argc, char ***argv);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const char *const names[] = {"network.ini", "map.csv", "units.csv", "log.csv"};
static char dir[] = "/tmp/crossward-fuzz-XXXXXX";

static char *path_of(size_t i) {
    return g_build_filename(dir, names[i], NULL);
}

static void remove_files(void) {
    for (size_t i = 0; i < G_N_ELEMENTS(names); i++) {
        char *path = path_of(i);
        unlink(path);
        g_free(path);
    }
    rmdir(dir);
}

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    if (!mkdtemp(dir) || atexit(remove_files) != 0)
        abort();
    return 0;
}

static void write_files(const char *text, size_t size) {
    static const char mark[] = "\n%%\n";
    for (size_t i = 0; i < G_N_ELEMENTS(names); i++) {
        const char *end =
            i + 1 < G_N_ELEMENTS(names) ? memmem(text, size, mark, strlen(mark)) : NULL;
        const size_t n = end ? (size_t)(end - text) : size;
        char *path = path_of(i);
        if (n == 0)
            unlink(path); // no such file
        else if (!g_file_set_contents_full(path, text, (gssize)n, G_FILE_SET_CONTENTS_NONE, 0600,
                                           NULL))
            abort();
        g_free(path);
        const size_t used = MIN(size, n + (end ? strlen(mark) : 0));
        text += used;
        size -= used;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    write_files((const char *)data, size);
    g_auto(GStrv) words =
        g_strsplit("check --quiet --threads 1 --out /dev/null --network DIR LOG", " ", -1);
    g_free(words[7]);
    words[7] = g_strdup(dir);
    g_free(words[8]);
    words[8] = path_of(3);
    GError *error = NULL;
    const int status = check_run(9, words, &error);
    const bool done = status == COMMAND_DONE || status == COMMAND_SEVERE;
    if (done ? error != NULL
             : (status != COMMAND_INPUT && status != COMMAND_USAGE) || error == NULL)
        abort();
    g_clear_error(&error);
    return 0;
}
