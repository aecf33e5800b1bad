// SPDX-License-Identifier: GPL-3.0-or-later
// Texts of the groups that rows of the estimates are of, each made once: there are few of them, and
// many rows.
#ifndef CROSSWARD_PACK_GROUPS_H
#define CROSSWARD_PACK_GROUPS_H

#include "measure/estimate.h"

typedef struct Groups Groups;

// network: NULL for the groups' texts of summary.csv (estimate_group); else they are in words, with
// its units' names: "escort grade: senior trainee". Both are borrowed. For one thread alone.
Groups *groups_new(const Estimates *estimates, const Network *network);
void groups_free(Groups *groups);

// Belongs to groups.
const char *groups_text(Groups *groups, const Estimate *row);

#endif
