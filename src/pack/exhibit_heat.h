// SPDX-License-Identifier: GPL-3.0-or-later
// Heat tables: a figure in each cell, the cell darker the greater it is.
#ifndef CROSSWARD_PACK_EXHIBIT_HEAT_H
#define CROSSWARD_PACK_EXHIBIT_HEAT_H

#include "pack/exhibit.h"

// Builders for the chart table (exhibit.h). Departures by sender and receiver; departures by hour
// and weekday; how complete each field is at each unit.
Exhibit *exhibit_heat_flow(const Source *s, const ExhibitKind *kind);
Exhibit *exhibit_heat_hours(const Source *s, const ExhibitKind *kind);
Exhibit *exhibit_heat_completeness(const Source *s, const ExhibitKind *kind);

#endif
