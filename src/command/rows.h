// SPDX-License-Identifier: GPL-3.0-or-later
// Fetches the text of rows that were not used from their logs.
#ifndef CROSSWARD_COMMAND_ROWS_H
#define CROSSWARD_COMMAND_ROWS_H

#include "record/finding.h"

#include <stdbool.h>

// Fills in the row of each PutAside that has none yet, word for word, from the inputs (GPtrArray of
// Input). The list must be sorted. False and error if a log can't be read a second time.
bool rows_fill(const GPtrArray *inputs, Findings *findings, GError **error);

#endif
