// SPDX-License-Identifier: GPL-3.0-or-later
// What a reader of a release can find out: the counts of its rows as unknowns, what links.h finds
// and sums over units and periods as equations, and the attempt to solve these.
#ifndef CROSSWARD_DISCLOSURE_ATTACK_H
#define CROSSWARD_DISCLOSURE_ATTACK_H

#include "disclosure/links.h"

// A count of one cell, the same whatever rows tell it.
typedef struct {
    uint32_t value;
    guint first_row, rows;           // in Attack.row: rows that tell it
    guint first_equation, equations; // in Attack.holds_in
} AttackCount;

// The last term is the sum of the others.
typedef struct {
    guint first, n; // in Attack.term
} AttackEquation;

#define ATTACK_NONE G_MAXUINT

typedef struct {
    AttackCount *count;
    guint counts;
    GArray *equation; // of AttackEquation
    GArray *term;     // guint: counts
    guint *row, *holds_in;
    guint *of_row; // by row of the estimates and SeriesCount: count, or ATTACK_NONE
    // What attack_try found:
    guint *found_by; // by count: the equation that it follows from, or ATTACK_NONE
    bool *known;     // by count: told by a row that is shown, or found
    GArray *news;    // guint: counts in the order in which they were found
} Attack;

// Free with attack_free.
Attack *attack_new(const Estimates *e, const SeriesTable *series, const Links *links);
void attack_free(Attack *attack);

// Finds what follows from the rows that are shown by one equation after the other: a count is known
// once all others of an equation are, and all parts of a sum are 0 if they add up to 0. hidden: by
// row of the estimates.
void attack_try(Attack *attack, const uint8_t *hidden);

// After attack_try: shows one more row, if no count of 1 to least - 1 follows from that, nor hidden
// ones that add up to such; else false, and all is as before.
bool attack_show(Attack *attack, guint row, unsigned least);

// After attack_try: counts that are not known, but that have one value only between what the
// equations, each by itself and again and again, say is the least and the most. pinned_by: by
// count, the equation that brought the two together, or ATTACK_NONE.
void attack_bound(const Attack *attack, guint *pinned_by);

// Then, what all equations together say of counts that are not known: determined, by count.
void attack_solve(const Attack *attack, bool *determined);

// Whether hidden counts together are of 1 to least - 1 by an equation whose sum is known, or by it
// and one more (*other, else ATTACK_NONE) that says what a hidden part of it is the sum of.
bool attack_sum(const Attack *attack, guint equation, unsigned least, guint *other);

#endif
