// SPDX-License-Identifier: GPL-3.0-or-later
// Reads a small CSV file whole, for the checks.
#ifndef CROSSWARD_PUBLISHED_CSV_H
#define CROSSWARD_PUBLISHED_CSV_H

#include <glib.h>

// Rows as NULL-terminated string vectors of at least `columns` cells (short rows are filled with
// empty ones). NULL if the file cannot be read. Free with g_ptr_array_unref.
GPtrArray *published_csv_read(const char *path, guint columns);

#endif
