// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: cumulative departures, phases of the wait.
#ifndef CROSSWARD_PACK_EXHIBIT_CURVES_H
#define CROSSWARD_PACK_EXHIBIT_CURVES_H

#include "pack/exhibit.h"

Exhibit *exhibit_curves_left(const Source *s, const ExhibitKind *kind);   // who had left by when
Exhibit *exhibit_curves_phases(const Source *s, const ExhibitKind *kind); // medians of the phases

#endif
