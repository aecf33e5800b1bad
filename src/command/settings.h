// SPDX-License-Identifier: GPL-3.0-or-later
// The settings in effect, as manifest, data package and database name them.
#ifndef CROSSWARD_COMMAND_SETTINGS_H
#define CROSSWARD_COMMAND_SETTINGS_H

#include "command/session.h"

// Whatever besides the logs can change a number: options, the network's settings, the [log ...]
// sections that the inputs match, and the SHA-256 of each file of the network's folder that was
// read (sha256.NAME; no path of the machine). GPtrArray of key, value, ..., NULL; unref it.
// NULL with an error when one of these files can't be read now.
GPtrArray *settings_list(const Session *a, const SessionOptions *o, GError **error);

// Adds one more, before the NULL.
void settings_add(GPtrArray *list, const char *key, char *value);

// Adds the checksum of a file of the network's folder, if it is there, under its name without path.
// False with an error when it is there and can't be read.
bool settings_add_file(GPtrArray *list, const Network *network, const char *name, GError **error);

#endif
