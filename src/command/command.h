// SPDX-License-Identifier: GPL-3.0-or-later
// The commands. Each takes argv with its own name first and returns an exit code; with an error
// set, main prints it.
#ifndef CROSSWARD_COMMAND_COMMAND_H
#define CROSSWARD_COMMAND_COMMAND_H

#include <glib.h>

typedef enum {
    COMMAND_DONE = 0,
    COMMAND_SEVERE = 1,  // done, but a finding is severe
    COMMAND_USAGE = 2,   // wrong usage or settings
    COMMAND_INPUT = 3,   // an input could not be read or was refused
    COMMAND_OUTPUT = 4,  // an output could not be written
    COMMAND_MISSING = 5, // a tool is missing
} CommandExit;

typedef int (*CommandRun)(int argc, char **argv, GError **error);

int audit_run(int argc, char **argv, GError **error);
int check_run(int argc, char **argv, GError **error);
int map_run(int argc, char **argv, GError **error);
int export_run(int argc, char **argv, GError **error);
int trace_run(int argc, char **argv, GError **error);
int plan_run(int argc, char **argv, GError **error);
int replay_run(int argc, char **argv, GError **error);
int synth_run(int argc, char **argv, GError **error);

#endif
