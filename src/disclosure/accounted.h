// SPDX-License-Identifier: GPL-3.0-or-later
// The account of rows, count by count, and which of them a release hides.
#ifndef CROSSWARD_DISCLOSURE_ACCOUNTED_H
#define CROSSWARD_DISCLOSURE_ACCOUNTED_H

#include "cohort/cohort.h"
#include "disclosure/hiding.h"

typedef enum {
    ACCOUNTED_READ, // the sum of the rest
    ACCOUNTED_USED,
    ACCOUNTED_PUT_ASIDE,
    ACCOUNTED_REPEATED,
    ACCOUNTED_MERGED,
    ACCOUNTED_LEFT_OUT,
    ACCOUNTED_COUNTS
} AccountedCount;

typedef struct {
    uint64_t n[ACCOUNTED_COUNTS];
    bool hidden[ACCOUNTED_COUNTS];
} Accounted;

// hiding: NULL hides nothing. Else counts of 1 to least - 1 are hidden, and with them so much that
// their sum is no such count and does not stand alone: the next smallest of the parts but used,
// and where there is none, read. Used is shown only where e, the masked estimates, tells that
// number of the network anyway; else it, and read, would add to what they tell.
Accounted accounted_of(const Account *account, const Estimates *e, const Hiding *hiding);

// Whether any of them is hidden.
bool accounted_hides(const Accounted *counts);

#endif
