// SPDX-License-Identifier: GPL-3.0-or-later
// The cohort: the transfers that are used, and an account of every row that was read.
#ifndef CROSSWARD_COHORT_COHORT_H
#define CROSSWARD_COHORT_COHORT_H

#include "record/condition.h"
#include "record/finding.h"
#include "record/transfers.h"

typedef struct {
    uint64_t read, used, put_aside, repeated, merged, left_out; // read is the sum of the rest
} Account;

// Rank of each input: the later one's rows win over an earlier one's. rank[i] of input i.
// Takes repeats out of t (they are listed as put aside, row NULL), leaves out what `include` is not
// true of or what lies after last_day (WHEN_UNKNOWN = no such day), fills the derived columns and
// the account. rows_read is what intake counted.
Account cohort_make(Transfers *t, const Network *network, const uint32_t *rank,
                    const Condition *include, int32_t last_day, uint64_t rows_read,
                    Findings *findings);

// Whether the account adds up.
bool cohort_account_holds(const Account *account);

#endif
