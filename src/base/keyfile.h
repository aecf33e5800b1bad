// SPDX-License-Identifier: GPL-3.0-or-later
// Key files (network.ini, replay.ini) that are text and nothing else.
#ifndef CROSSWARD_BASE_KEYFILE_H
#define CROSSWARD_BASE_KEYFILE_H

#include <glib.h>
#include <stdbool.h>

// Loads the file at path, as g_key_file_load_from_file, but refuses what is not UTF-8 throughout:
// GLib takes a NUL for the end, and what follows it would be passed over. A mark of UTF-8 at the
// beginning, which some editors write, is none of the text. The error does not name the file.
bool keyfile_load(GKeyFile *keys, const char *path, GError **error);

#endif
