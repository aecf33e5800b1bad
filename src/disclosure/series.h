// SPDX-License-Identifier: GPL-3.0-or-later
// The counts that rows of the table of estimates tell, as series: one count of one indicator and
// group, over all cells that it is told of.
//
// A cell is a unit and a period. Narrow cells, which every series has: the network in each period,
// and each unit over all. Wide ones, of whole groups alone, come after them: each unit in each
// audit year and quarter.
#ifndef CROSSWARD_DISCLOSURE_SERIES_H
#define CROSSWARD_DISCLOSURE_SERIES_H

#include "measure/estimate.h"

typedef enum {
    SERIES_KNOWN,   // records (or absences, or events) of which all is known
    SERIES_UNKNOWN, // those of which it isn't
    SERIES_ALL,     // both
    SERIES_EVENTS,
    SERIES_REST, // of a share: known, and no event
    SERIES_COUNTS
} SeriesCount;

typedef struct {
    uint16_t indicator, part, group;
    FieldId by;
    SeriesCount count;
    guint cells;
    uint32_t *value; // by cell
} Series;

typedef struct {
    guint narrow, wide; // number of cells: of the network and of units over all; of all
    GArray *list;       // of Series
    guint *of;   // by row of the estimates and SeriesCount: index of the series, or SERIES_NONE
    guint *cell; // by row
    GHashTable *index; // for series_find
} SeriesTable;

#define SERIES_NONE G_MAXUINT

// Place: index into Estimates.units. The period must be one that cells are of.
guint series_cell(const Estimates *e, guint place, guint period);

// Free with series_free.
SeriesTable *series_new(const Estimates *e);
// Index of a series, its cells and values apart as given, or SERIES_NONE.
guint series_find(const SeriesTable *table, const Series *like);
void series_free(SeriesTable *table);

#endif
