// SPDX-License-Identifier: GPL-3.0-or-later
// A quiet line on the terminal that says how far a stage is.
#ifndef CROSSWARD_COMMAND_PROGRESS_H
#define CROSSWARD_COMMAND_PROGRESS_H

#include <glib.h>
#include <stdbool.h>

typedef struct Progress Progress;

// Shown on standard error if that is a terminal and `wanted`; else everything here does nothing.
// Free with progress_free, which clears the line.
Progress *progress_new(bool wanted);
void progress_free(Progress *p);

// Takes the line away until it is drawn again, for something else to be said.
void progress_clear(const Progress *p);

// A new stage with so many steps, of what `unit` names ("files", "charts"); 0: how many is not
// known, or not yet.
void progress_stage(Progress *p, const char *stage, guint total, const char *unit);

// How many are done, redrawn a few times a second at most, with the part of the whole stage that is
// done, 0 to 1, which the bar then shows instead of the steps and never takes back, and how many
// rows were read so far, said beside them.
void progress_part(Progress *p, guint done, double part, guint64 rows);

// How many are done of how many, as a callback: user is the Progress.
void progress_tick(void *user, guint done, guint total);

#endif
