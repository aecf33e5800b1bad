// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: small multiples, a panel for each unit.
#ifndef CROSSWARD_PACK_EXHIBIT_PANELS_H
#define CROSSWARD_PACK_EXHIBIT_PANELS_H

#include "pack/exhibit.h"

// The kind's indicator by quarter, a panel a unit, all on one scale.
Exhibit *exhibit_panels_units(const Source *s, const ExhibitKind *kind);

#endif
