// SPDX-License-Identifier: GPL-3.0-or-later
// Rows of totals, which spreadsheets end with.
#ifndef CROSSWARD_INTAKE_TOTALS_H
#define CROSSWARD_INTAKE_TOTALS_H

#include <stdbool.h>
#include <stddef.h>

// Whether a text begins as the first cell of a row of totals does (common practice, no source).
bool totals_begin(const char *text, size_t length);

#endif
