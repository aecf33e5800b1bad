// SPDX-License-Identifier: GPL-3.0-or-later
// One file of text that a person named: there whole or not at all.
#ifndef CROSSWARD_BASE_OUTFILE_H
#define CROSSWARD_BASE_OUTFILE_H

#include <glib.h>
#include <stdbool.h>

// Writes the text to path: an ordinary file is replaced when the new one is whole; into a device or
// a pipe (/dev/null, /dev/stdout) it is written, and that stays what it is. False with an error.
bool outfile_write(const char *path, const char *text, gsize length, GError **error);

#endif
