// SPDX-License-Identifier: GPL-3.0-or-later
// How counts hang together: which series count the same, and which are sums of others.
//
// Some relations hold by definition: known + unknown = all, events + rest = known, parts of a mix
// and groups of a breakdown add up. Others follow from what a catalogue's conditions happen to say
// ("non-clinical" is the sum of three reasons). Those are found by looking: a relation that holds
// in every cell that its series share is taken to hold by definition; one that holds by chance
// only hides more. Looked for are equal series, sums of two, and sums of members of one family
// (parts of a mix, groups of a breakdown) of up to 14; others are not.
#ifndef CROSSWARD_DISCLOSURE_LINKS_H
#define CROSSWARD_DISCLOSURE_LINKS_H

#include "disclosure/series.h"

// Series that are equal in all cells that they share.
typedef struct {
    guint cells;           // of the one with most
    const uint32_t *value; // its values, borrowed
    guint64 sum;           // of the values of narrow cells, each times a number of the cell's own
    bool zero;             // all are 0: equal to nothing else
} LinkClass;

// The last class is the sum of the others, in the cells that all of them have.
typedef struct {
    guint first, n; // in Links.term
    guint cells;
} LinkRelation;

typedef struct {
    guint *class_of;  // by series
    GArray *classes;  // of LinkClass
    GArray *relation; // of LinkRelation
    GArray *term;     // guint: classes
} Links;

// Free with links_free, before the series.
Links *links_new(const Estimates *e, const SeriesTable *series);
void links_free(Links *links);

#endif
