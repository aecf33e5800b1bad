// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: A measure over quarters.
#ifndef CROSSWARD_PACK_EXHIBIT_TREND_H
#define CROSSWARD_PACK_EXHIBIT_TREND_H

#include "pack/exhibit.h"

// The kind's indicator by quarter with its limits: of the network, or of the unit whose page it is.
Exhibit *exhibit_trend_quarters(const Source *s, const ExhibitKind *kind);

#endif
