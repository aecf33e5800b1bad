// SPDX-License-Identifier: GPL-3.0-or-later
// Names of the parts of a lying bar, over it, each with a thin line down to its part.
#ifndef CROSSWARD_PACK_PARTS_H
#define CROSSWARD_PACK_PARTS_H

#include "pack/chart.h"

enum { PARTS_MOST = 16 }; // names of one bar

// One part: its name, and px from the picture's left edge to its middle; then where its name
// stands, which parts_place finds: px to its left end, and the line of text, 0 the lowest.
typedef struct {
    const char *name;
    double middle, x;
    int line;
} PartsName;

// Places the names of n parts (PARTS_MOST at most), given from left to right, in a picture of that
// width, so that no name covers another or the line of another, in as few lines of text as that
// needs. Returns the px that they need above the plotting area.
int parts_place(guint n, PartsName *parts, int width);

// Writes them above the plotting area, the thin lines down to y px.
void parts_draw(Chart *chart, guint n, const PartsName *parts, double y);

#endif
