// SPDX-License-Identifier: GPL-3.0-or-later
// What the guard saw in the cells of one row, tallied once the row turns out to be a record.
#ifndef CROSSWARD_INTAKE_SIGHTS_H
#define CROSSWARD_INTAKE_SIGHTS_H

#include "intake/guard.h"
#include "record/field.h"

#include <glib.h>

// A cell that the guard looked at.
typedef struct {
    uint32_t column;
    GuardSight sight;
} Sight;

// Adds what a cell looks like to the row's (GArray of Sight), or what it is known to look like.
// Units may be called as persons are, or as places: "North Moor", so their names are not judged by
// that form; outputs show them, so one number among them that may be a person's is too many.
void sights_look(GArray *sights, FieldId field, uint32_t column, const char *text, size_t length);
void sights_add(GArray *sights, uint32_t column, const GuardSight *sight);

// Adds the row's to the tally of each column.
void sights_tally(const GArray *sights, GuardColumn *guard, uint32_t line);

#endif
