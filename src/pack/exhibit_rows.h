// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: A row for each unit or group: an interval and its estimate.
#ifndef CROSSWARD_PACK_EXHIBIT_ROWS_H
#define CROSSWARD_PACK_EXHIBIT_ROWS_H

#include "pack/exhibit.h"

// The kind's indicator by sending unit over the whole period, the greatest on top; a unit whose
// interval does not reach the network's value is marked.
Exhibit *exhibit_rows_units(const Source *s, const ExhibitKind *kind);

// The same by the groups of the kind's field, for the network (or the unit whose page it is).
Exhibit *exhibit_rows_groups(const Source *s, const ExhibitKind *kind);

#endif
