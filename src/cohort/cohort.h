// SPDX-License-Identifier: GPL-3.0-or-later
// The cohort: the transfers that are used, and an account of every row that was read.
#ifndef CROSSWARD_COHORT_COHORT_H
#define CROSSWARD_COHORT_COHORT_H

#include "cohort/join.h"
#include "cohort/received.h"
#include "record/condition.h"
#include "record/finding.h"
#include "record/transfers.h"

typedef struct {
    uint64_t read, used, put_aside, repeated, merged, left_out; // read is the sum of the rest
} Account;

typedef struct {
    const uint32_t *rank;     // by input: the higher one's rows win over the lower one's
    const char *const *names; // of the inputs, as findings say them
    const Condition *include; // records of which it is not true are left out; NULL = none
    int32_t last_day;         // later records are left out; WHEN_UNKNOWN = no such day
    uint64_t rows_read;       // what intake counted
    int threads;              // to work with
} CohortSettings;

// Takes repeats out of t (listed as put aside, row NULL), joins both ends' rows, fills the derived
// columns, leaves out what the settings say (listed as put aside) and returns the account. What
// was joined is added to join; who sent what before that, to *received.
Account cohort_make(Transfers *t, const Network *network, const CohortSettings *settings,
                    Join *join, Received **received, Findings *findings);

// Whether the account adds up.
bool cohort_account_holds(const Account *account);

#endif
