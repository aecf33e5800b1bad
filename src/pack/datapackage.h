// SPDX-License-Identifier: GPL-3.0-or-later
// Frictionless Data Package (datapackage.json): what the columns of CSV files hold, beside them.
// Specification: Data Package version 1, profiles tabular-data-package and tabular-data-resource.
#ifndef CROSSWARD_PACK_DATAPACKAGE_H
#define CROSSWARD_PACK_DATAPACKAGE_H

#include "pack/folder.h"
#include "pack/tables.h"

typedef enum { DATA_TEXT, DATA_INTEGER, DATA_NUMBER } DataType;

typedef struct {
    const char *name, *description;
    DataType type;
    bool may_be_empty;         // an empty cell is a missing value
    const char *const *values; // the only ones allowed, ended by NULL; or NULL
    const char *table;         // whose column of the same name has all values, or NULL
} DataColumn;

// One CSV file, NAME.csv.
typedef struct {
    const char *name, *title;
    const DataColumn *columns;
    size_t n;
    const char *const *key; // columns that tell rows apart, ended by NULL; or NULL
} DataTable;

// First line of the file: names of the columns, and a line end.
GString *datapackage_heading(const DataTable *table);

// A package of n tables with the sums of their files. settings as in tables_manifest. Free with
// g_string_free.
GString *datapackage_text(const char *name, const char *title, const DataTable *tables,
                          const FolderSum *sums, size_t n, const TablesInput *inputs,
                          size_t n_inputs, const char *const *settings);

#endif
