// SPDX-License-Identifier: GPL-3.0-or-later
// What the columns of the pack's CSV files hold.
#ifndef CROSSWARD_PACK_DICTIONARY_H
#define CROSSWARD_PACK_DICTIONARY_H

#include "pack/datapackage.h"

// Columns of a CSV text by its first line; their number comes back in n. A column that the
// dictionary lacks has the description "". Free with dictionary_free.
DataColumn *dictionary_columns(const char *csv, size_t *n);
void dictionary_free(DataColumn *columns, size_t n);

#endif
