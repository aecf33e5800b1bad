// SPDX-License-Identifier: GPL-3.0-or-later
// What is said of logs that are refused.
#ifndef CROSSWARD_COMMAND_REFUSALS_H
#define CROSSWARD_COMMAND_REFUSALS_H

#include <glib.h>

// The reader's message on one log, in one line; free with g_free.
char *refusals_line(const char *message);

// The reader's messages on all refused logs, each in a line of its own, then what to do about them,
// once; free with g_free.
char *refusals_text(const GPtrArray *messages);

// What was probably meant where LOG arguments were given without --network and one of them is a
// folder that holds a network.ini, or a folder with one; then the names of the refused logs (of one
// alone its message). NULL if there is none; free with g_free.
char *refusals_meant(char **logs, const GPtrArray *messages, const GPtrArray *names);

#endif
