// SPDX-License-Identifier: GPL-3.0-or-later
// The findings for a person: a page a file, alike ones together.
#ifndef CROSSWARD_COMMAND_DIGEST_H
#define CROSSWARD_COMMAND_DIGEST_H

#include "intake/inputs.h"
#include "record/finding.h"

// For each input: rows, then its findings by severity (gravest first) and number, each with where,
// the first five, how many, and what to do; findings of no file come last. Findings must be sorted.
// Free with g_string_free.
GString *digest_text(const GPtrArray *inputs, const Findings *findings);

#endif
