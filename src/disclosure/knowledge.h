// SPDX-License-Identifier: GPL-3.0-or-later
// What a reader of a release knows of its counts, row after row: the least and the most that each
// can be, by equations one after the other, again and again (interval propagation; Davis 1987).
#ifndef CROSSWARD_DISCLOSURE_KNOWLEDGE_H
#define CROSSWARD_DISCLOSURE_KNOWLEDGE_H

#include "disclosure/attack.h"

typedef struct {
    uint64_t least, most;
} KnowledgeBounds;

typedef struct {
    const Attack *a;
    unsigned least;      // smallest count above 0 that may be known
    KnowledgeBounds *of; // by count; known where both are the same
    bool *queued;        // by equation
    GQueue todo;         // equations
    GArray *journal;     // what it was before the last row
} Knowledge;

// Of a release that shows nothing yet: a count is at least 1 if it is, since no row is hidden for
// a 0. Free with knowledge_free, before attack.
Knowledge *knowledge_new(const Attack *attack, unsigned least);
void knowledge_free(Knowledge *k);

// Shows one more row, if no count of 1 to least - 1 follows from that, nor hidden ones that are
// such a sum by an equation, or by one and another that says what a hidden part of it is the sum
// of; else false, and all is as before.
bool knowledge_show(Knowledge *k, guint row);

// Of a release that shows these rows alone (hidden: by row), which must be among those that
// knowledge_show let pass together.
void knowledge_reset(Knowledge *k, const uint8_t *hidden, guint rows);

bool knowledge_of(const Knowledge *k, guint count);

// Takes counts for known, too (also: by count), and looks what follows. Then `also` says which
// counts that became known tell something small, in the sense of knowledge_show; how many these
// are. more: whether others than those given became known.
guint knowledge_learn(Knowledge *k, bool *also, bool *more);

#endif
