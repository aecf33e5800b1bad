// SPDX-License-Identifier: GPL-3.0-or-later
// The catalogue in SQL: one view an indicator, which says what each record adds to it.
#ifndef CROSSWARD_PACK_VIEWS_H
#define CROSSWARD_PACK_VIEWS_H

#include "measure/catalogue.h"

// A condition as an SQL expression over the columns of `transfers`: true, false, or NULL for
// unknown. Units are quoted as literals. To be freed.
char *views_condition(const Condition *condition);

// Names of the views of a catalogue (of Indicator), in its order: lower-case letters, digits and _,
// no two alike, short enough for PostgreSQL. GPtrArray of char *.
GPtrArray *views_names(const GPtrArray *catalogue);

// CREATE VIEW statements: views NAME that say what each record adds, with the columns transfer,
// part, events, total, minutes, unknown, and indicator_records over all of them; views NAME_cells
// that sum that up over the cells that are reported (see sql/views.sql), and indicator_cells over
// all of them. names as views_names gives them; the network gives the caps. Free with
// g_string_free.
GString *views_sql(const GPtrArray *catalogue, const GPtrArray *names, const Network *network);

#endif
