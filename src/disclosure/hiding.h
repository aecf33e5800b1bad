// SPDX-License-Identifier: GPL-3.0-or-later
// Which rows of the table of estimates a release hides, so that no count of 1 to least - 1 stands
// in it or follows from it by knowledge.h and attack.h. A row is shown or hidden whole, since
// limits give numerators away.
//
// small: a count of the row is of 1 to least - 1: events, total, of a share total - events,
// unknown, and of a rate the records whose hours or km it adds up. extreme: a quantile, or a limit
// of it, has fewer than least values at or below it, or at or above it; it would tell what happened
// to a few. derived: it would help to find a count of a hidden row out, by sums over units,
// periods, groups and parts of a mix and by indicators that count the same (complementary
// suppression). From nothing, rows are shown one by one, the most wanted first, as long as nothing
// small follows: the whole span before years, quarters and months, whole groups before parts, the
// network before units, many records before few. After: Federal Committee on Statistical
// Methodology, Statistical Policy Working Paper 22 (2nd version, 2005), chapters II and IV.
#ifndef CROSSWARD_DISCLOSURE_HIDING_H
#define CROSSWARD_DISCLOSURE_HIDING_H

#include "measure/estimate.h"

typedef enum {
    HIDING_SHOWN,
    HIDING_SMALL,
    HIDING_EXTREME,
    HIDING_DERIVED,
    HIDING_KINDS
} HidingKind;

typedef struct {
    unsigned least;           // smallest count above 0 that is shown
    uint8_t *of;              // HidingKind, by row of the estimates
    guint rows[HIDING_KINDS]; // how many rows there are of each kind
} Hiding;

enum { HIDING_LEAST = 2, HIDING_MOST = 1000 }; // what least may be

// Free with hiding_free.
Hiding *hiding_new(const Estimates *e, unsigned least);
void hiding_free(Hiding *hiding);

// The estimates without what is hidden: the same rows, but those hold no number and say that they
// are suppressed. Free with estimate_free, before e.
Estimates *hiding_masked(const Estimates *e, const Hiding *hiding);

#endif
