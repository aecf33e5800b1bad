// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: what was sent in by month, hours away and hours with two or more away by hour of the
// week, as heat tables.
#ifndef CROSSWARD_PACK_EXHIBIT_GRID_H
#define CROSSWARD_PACK_EXHIBIT_GRID_H

#include "pack/exhibit.h"

Exhibit *exhibit_grid_months(const Source *s, const ExhibitKind *kind); // records by unit and month
Exhibit *exhibit_grid_away(const Source *s, const ExhibitKind *kind);   // team hours away
Exhibit *exhibit_grid_two(const Source *s, const ExhibitKind *kind);    // two or more at once

#endif
