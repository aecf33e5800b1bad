// SPDX-License-Identifier: GPL-3.0-or-later
// Any words to `crossward interval`: it answers or refuses, and says why it refused.
#include "command/interval.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerInitialize(int *argc, char ***argv);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    if (!freopen("/dev/null", "w", stdout))
        abort();
    return 0;
}

// The input is one word a line.
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    g_autofree char *text = g_strndup((const char *)data, size);
    g_autofree char *lines = g_strconcat("interval\n", text, NULL);
    g_auto(GStrv) words = g_strsplit(lines, "\n", 20);
    g_autoptr(GError) error = NULL;
    int status = interval_run((int)g_strv_length(words), words, &error);
    if (status == 0 ? error != NULL : status != 2 || error == NULL)
        abort();
    return 0;
}
