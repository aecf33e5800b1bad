// SPDX-License-Identifier: GPL-3.0-or-later
// Folders that an earlier run wrote.
#ifndef CROSSWARD_BASE_OURS_H
#define CROSSWARD_BASE_OURS_H

#include <stdbool.h>

// Whether the folder holds the files that tell a pack, tables, a replay or a plan.
bool ours_is(const char *folder);

#endif
