// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward synth`: not there yet.
#include "command/command.h"
int synth_run(int argc, char **argv, GError **error) {
    (void)argc;
    (void)argv;
    (void)error;
    return 2;
}
