// SPDX-License-Identifier: GPL-3.0-or-later
// Two rows of one transfer, the sender's and the receiver's, become one.
#ifndef CROSSWARD_COHORT_MERGE_H
#define CROSSWARD_COHORT_MERGE_H

#include "record/finding.h"
#include "record/transfers.h"

// Clocks that differ by so many minutes still agree nearly.
enum { MERGE_NEAR = 5 };

// What both ends said about one field, over all joined pairs.
typedef struct {
    uint64_t sender_known, receiver_known, both; // pairs where that end, or both, said something
    uint64_t equal;                              // both said the same
    uint64_t near; // both gave a time, at most MERGE_NEAR minutes apart
    unsigned k;    // classes; 0 for fields that are not sorted into classes
    uint64_t
        *cells; // k x k pairs, cells[sender's code - 1][receiver's code - 1]; events: any, none
} MergeField;

typedef struct {
    MergeField field[FIELD_STORED];
} MergeAgreement;

MergeAgreement *merge_agreement_new(void);
void merge_agreement_free(MergeAgreement *agreement);

// Brings what `receiver` says into the row `sender`. The receiver's word stands for arrived_at,
// handed_over_at, handover_signed and receiving_area, the sender's for the rest; what the one does
// not know is filled in from the other, except recorded_by. Of each category of events as many stay
// as the end that lists more of it has, with the greater degrees of harm. What both know and differ
// in, except pseudonyms and recorded_by, is a finding, and so are stamps of different ends that are
// out of order, and a departure that the other end's outcome denies.
void merge_rows(Transfers *t, size_t sender, size_t receiver, const Network *network,
                MergeAgreement *agreement, Findings *findings);

#endif
