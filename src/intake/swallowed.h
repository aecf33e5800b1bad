// SPDX-License-Identifier: GPL-3.0-or-later
// Rows that a quote which is closed too late takes into a cell.
#ifndef CROSSWARD_INTAKE_SWALLOWED_H
#define CROSSWARD_INTAKE_SWALLOWED_H

#include <stdbool.h>
#include <stddef.h>

// Whether a row, as it stands in the log, goes on over a line that has the delimiters of a whole
// row of that many columns, at least two.
bool swallowed_rows(const char *text, size_t n, char delimiter, unsigned columns);

#endif
