// SPDX-License-Identifier: GPL-3.0-or-later
// Repeated and corrected rows: the newest word of a log on a transfer stands.
#ifndef CROSSWARD_COHORT_REPEATS_H
#define CROSSWARD_COHORT_REPEATS_H

#include "record/finding.h"
#include "record/transfers.h"

// Unit whose log a row stands in: recorded_by, else the sending unit.
uint16_t repeats_keeper(const Transfers *t, size_t row);

// Sets keep[i] = 0 for each of t's rows that a newer one repeats, else 1; returns how many repeat.
// A row repeats another if both have the same id, the same keeper and, where known, the same ends,
// and the requests are at most 24 h apart (without two requests: the same local day). Newer is what
// stands in the input of the higher rank[], or further down in the same one; rows are compared with
// the kept ones, the newest first. Repeats are listed as put aside (row NULL), and rows that only
// share id and keeper with a kept one get the finding `id-reused`. Time grows as n log n, however
// often an id occurs.
uint64_t repeats_find(const Transfers *t, const Network *network, const uint32_t *rank,
                      uint8_t *keep, Findings *findings);

#endif
