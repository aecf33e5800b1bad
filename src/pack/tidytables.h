// SPDX-License-Identifier: GPL-3.0-or-later
// Counts, estimates and definitions as tidy CSV files with a data package beside them. Nothing in
// them is about one transfer.
#ifndef CROSSWARD_PACK_TIDYTABLES_H
#define CROSSWARD_PACK_TIDYTABLES_H

#include "pack/folder.h"
#include "pack/tables.h"

// What goes into them. All borrowed.
typedef struct {
    const Estimates *estimates;
    const Network *network;
    const Account *account;
    const TablesInput *inputs;
    size_t n_inputs;
    const char *const *settings; // key, value, key, value, ..., NULL
} TidyTables;

// Writes the files into a folder that has been begun: false with an error if one can't be written.
bool tidytables_write(Folder *folder, const TidyTables *content, GError **error);

#endif
