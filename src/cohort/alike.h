// SPDX-License-Identifier: GPL-3.0-or-later
// Rows without a pseudonym that say the same: a log that came twice, or a row copied.
#ifndef CROSSWARD_COHORT_ALIKE_H
#define CROSSWARD_COHORT_ALIKE_H

#include "record/finding.h"
#include "record/transfers.h"

// A finding `alike` for each input with rows that equal an earlier one in every stored field, kept
// by the same keeper, have no transfer_id and at least one time; severe where all its rows do (two
// or more). Nothing is taken out: patients may have left together. names: of the inputs. Time grows
// as n log n in the rows without transfer_id.
void alike_say(const Transfers *t, const char *const *names, Findings *findings);

#endif
