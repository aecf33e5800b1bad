// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward interval`: an estimate with its limits from counts given by hand.
#ifndef CROSSWARD_COMMAND_INTERVAL_H
#define CROSSWARD_COMMAND_INTERVAL_H

#include <glib.h>

// argv: argv[0] is "interval", then options and the counts: `X/N`, `X/N vs X/N`, `X per T`, or
// `X per T vs X per T` (as one word or several). Writes the answer to standard output.
// Returns the exit code: 0; 2 with *error set for wrong usage (nothing written; the caller prints
// the message); 4 with *error set if standard output cannot be written.
int interval_run(int argc, char **argv, GError **error);

#endif
