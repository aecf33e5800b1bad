// SPDX-License-Identifier: GPL-3.0-or-later
// Any bytes as a log to `crossward check`: it reads them or refuses them, says why, and its account
// of rows adds up (the program itself ends loudly when it does not).
#include "command/command.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

int LLVMFuzzerInitialize(int *argc, char ***argv);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static char log_path[] = "/tmp/crossward-fuzz-XXXXXX.csv";

static void remove_log(void) {
    unlink(log_path);
}

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    int file = mkstemps(log_path, 4);
    if (file < 0 || close(file) != 0 || atexit(remove_log) != 0)
        abort();
    return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    FILE *log = fopen(log_path, "wb");
    if (!log || fwrite(data, 1, size, log) != size || fclose(log) != 0)
        abort();
    g_auto(GStrv) words = g_strsplit("check --quiet --out /dev/null LOG", " ", -1);
    g_free(words[4]);
    words[4] = g_strdup(log_path);
    GError *error = NULL;
    int status = check_run(5, words, &error);
    bool done = status == COMMAND_DONE || status == COMMAND_SEVERE;
    if (done ? error != NULL : status != COMMAND_INPUT || error == NULL)
        abort();
    g_clear_error(&error);
    return 0;
}
