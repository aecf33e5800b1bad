// SPDX-License-Identifier: GPL-3.0-or-later
// What a reader of a release has to go by: the counts of its rows as unknowns, what links.h finds
// and sums over units and periods as equations.
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
} Attack;

// Free with attack_free.
Attack *attack_new(const Estimates *e, const SeriesTable *series, const Links *links);
void attack_free(Attack *attack);

// What all equations together say of counts that are not known: determined, by count; what is known
// is not.
void attack_solve(const Attack *attack, const bool *known, bool *determined);

#endif
