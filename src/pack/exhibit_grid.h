// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: what was sent in by month, teams away by hour of the week, as heat tables.
#ifndef CROSSWARD_PACK_EXHIBIT_GRID_H
#define CROSSWARD_PACK_EXHIBIT_GRID_H

#include "pack/exhibit.h"

Exhibit *exhibit_grid_months(const Source *s, const ExhibitKind *kind); // records by unit and month
Exhibit *exhibit_grid_away(const Source *s, const ExhibitKind *kind);   // teams away, hour of week

#endif
