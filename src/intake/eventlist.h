// SPDX-License-Identifier: GPL-3.0-or-later
// Cells of a foreign log that list several events, and the sign that parts them.
#ifndef CROSSWARD_INTAKE_EVENTLIST_H
#define CROSSWARD_INTAKE_EVENTLIST_H

#include <glib.h>
#include <stdbool.h>

// Whether a cell is a list of events as we write them but for the sign between them: none, or
// category:harm.
bool eventlist_is(const char *cell, char separator);

// The sign that parts the events in most of the cells (char *): between two things that each are a
// category, a category:harm or a word for one. ';', as logs are read where nothing else is said, if
// no cell has another.
char eventlist_separator(const GPtrArray *cells);

// What stands between those signs, each text once, in order of their first cells. Free with
// g_ptr_array_unref.
GPtrArray *eventlist_items(const GPtrArray *cells, char separator);

#endif
