// SPDX-License-Identifier: GPL-3.0-or-later
// The same transfer logged by both of its ends becomes one.
#ifndef CROSSWARD_COHORT_JOIN_H
#define CROSSWARD_COHORT_JOIN_H

#include "cohort/merge.h"

// Whose log has a transfer.
typedef enum { JOIN_NEITHER, JOIN_SENDER, JOIN_RECEIVER, JOIN_BOTH } JoinLogged;

typedef struct {
    uint64_t joined;     // pairs that became one
    uint64_t doubtful;   // pairs that may be one transfer and were not joined
    uint64_t would_join; // rows fewer if the doubtful pairs were joined too, one to one
    uint64_t kept;       // rows once all that was joined became one, none left out yet
    MergeAgreement *agreement;
} Join;

Join *join_new(void);
void join_free(Join *join);

// Joins rows that the sending unit logged (repeats_keeper is the sending unit) with rows that the
// receiving unit logged (recorded_by is it). The sender's row stays, see merge.h; keep[i] = 0 for
// the receiver's, 1 for all others.
//
// Two rows can be one transfer if
// - both have the same sending and the same receiving unit;
// - their times agree: where both know departed_at, or both arrived_at, one of these differs by at
//   most network->join_window minutes; where neither can be compared, requested_at does;
// - neither age_band nor condition is known to differ.
// With network->shared_ids, rows of the same transfer_id come first: then band and condition may
// differ, the sender's row may lack the receiving unit, and if no time can be compared the same
// local day is enough.
//
// The best match comes first, one to one: the more of band and condition agree, the better; then
// the smaller difference of departed_at and arrived_at, whichever is smaller (of requested_at where
// neither can be compared), then the greater of the two (none is the worst). Where a row has a
// second partner as good, itself not joined yet, neither pair is joined, and none of these rows is
// joined to any other. Not joined either: rows of the same ends and local day, none of whose times
// can be compared, unless band or condition differ. All of these are listed as findings, each row
// once.
//
// Depends on what the rows hold, never on their order, and takes n log n, times the rows of the
// same ends in a join window of each other.
void join_ends(Transfers *t, const Network *network, const char *const *names, uint8_t *keep,
               Join *join, Findings *findings);

// Who logged a transfer, after join_ends: JOIN_NEITHER where the keeper is neither end.
JoinLogged join_logged(const Transfers *t, size_t row);

#endif
