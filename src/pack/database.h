// SPDX-License-Identifier: GPL-3.0-or-later
// The cohort, the catalogue and the estimates as an SQLite database.
#ifndef CROSSWARD_PACK_DATABASE_H
#define CROSSWARD_PACK_DATABASE_H

#include "pack/tables.h"

// What goes into it. All borrowed.
typedef struct {
    const Estimates *estimates; // with the transfers
    const EstimateSettings *settings;
    const Network *network;
    const Findings *findings; // sorted
    const Account *account;
    const TablesInput *inputs;
    size_t n_inputs;
    const char *const *meta; // key, value, key, value, ..., NULL
} DatabaseContent;

// Writes the database beside path, in one transaction, and renames it into place; an existing file
// is an error unless force. After a failure nothing new is left.
bool database_write(const char *path, bool force, const DatabaseContent *content, GError **error);

#endif
