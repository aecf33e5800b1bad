// SPDX-License-Identifier: GPL-3.0-or-later
// What is doubtful about unit codes.
#ifndef CROSSWARD_INTAKE_UNITLIST_H
#define CROSSWARD_INTAKE_UNITLIST_H

#include "record/finding.h"
#include "record/network.h"
#include "record/transfers.h"

// Whether the codes can be those of units: not where there are more than 500 sending units and
// fewer than two transfers of each, as where a pseudonym or a name is read as the unit. Then an
// error.
bool unitlist_believable(const Transfers *t, GError **error);

// Adds a finding for each unit code that the network's units.csv lacks, where each log first uses
// it in a field; without a units.csv, for each that differs from an earlier one only in case,
// blanks or signs. t must be sealed, and as it was read.
void unitlist_check(const Transfers *t, const Network *network, Findings *findings);

#endif
