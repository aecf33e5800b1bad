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

// Whether a database may be called path: an existing one is an error unless force; what is no
// database is never replaced. Of a link the file that it leads to is meant; one that leads
// nowhere is never replaced. For those who would know before the work is done.
bool database_may_write(const char *path, bool force, GError **error);

// Writes the database beside path, if it may, in one transaction, and renames it into place. After
// a failure nothing new is left.
bool database_write(const char *path, bool force, const DatabaseContent *content, GError **error);

#endif
