// SPDX-License-Identifier: GPL-3.0-or-later
// The exhibits of a report, a chart with its numbers as a table each: the chart table.
#ifndef CROSSWARD_PACK_EXHIBIT_H
#define CROSSWARD_PACK_EXHIBIT_H

#include "pack/chart.h"
#include "pack/sheet.h"
#include "pack/source.h"

typedef enum {
    THEME_DEMAND,
    THEME_WHY,
    THEME_WAIT,
    THEME_ESCORT,
    THEME_EVENTS,
    THEME_EQUIPMENT,
    THEME_BASE,
    THEME_WHAT_IF,
    THEME_QUALITY,
    THEME_COUNT
} Theme;

typedef struct Exhibit Exhibit;
typedef struct ExhibitKind ExhibitKind;

// One line of the chart table.
struct ExhibitKind {
    const char *name; // of files and anchors
    Theme theme;
    // Makes the exhibit, or NULL where there is nothing to show.
    Exhibit *(*build)(const Source *s, const ExhibitKind *kind);
    const char *indicator; // that it shows, if it is of one
    FieldId by;            // that it breaks down by, FIELD_COUNT if none
    const char *how;       // how to read it, the chart's grey line; NULL = the builder's own
    bool in_units;         // whether a unit's page has it too
};

struct Exhibit {
    const ExhibitKind *kind;
    Chart *chart; // NULL without one; its title is the finding
    Sheet *sheet;
    char *note; // under the chart: what is counted among whom, how many are unknown; NULL if none
};

// The chart table, and its length.
extern const ExhibitKind exhibit_kinds[];
extern const guint exhibit_n_kinds;

// Every exhibit of a report, in the table's order: GPtrArray of Exhibit *. For a unit's page, the
// charts' names begin with the unit's slug.
GPtrArray *exhibit_all(const Source *s);

// "Rests on 3,901 transfers; for 131 more it is not known"; `thing` in the singular. Free it.
char *exhibit_rests(double n, double unknown, const char *thing);

// Width of a chart, px: on a unit's page two stand side by side.
int exhibit_width(const Source *s);

// An exhibit of these parts, which it takes over.
Exhibit *exhibit_new(const ExhibitKind *kind, Chart *chart, Sheet *sheet);
void exhibit_free(gpointer exhibit);

#endif
