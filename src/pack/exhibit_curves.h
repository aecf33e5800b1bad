// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: how requests had ended by when, phases of the wait.
#ifndef CROSSWARD_PACK_EXHIBIT_CURVES_H
#define CROSSWARD_PACK_EXHIBIT_CURVES_H

#include "pack/exhibit.h"

// Who had left, been stood down or died waiting by when, the three ends competing.
Exhibit *exhibit_curves_left(const Source *s, const ExhibitKind *kind);
Exhibit *exhibit_curves_stood_down(const Source *s, const ExhibitKind *kind);
Exhibit *exhibit_curves_died(const Source *s, const ExhibitKind *kind);
Exhibit *exhibit_curves_phases(const Source *s, const ExhibitKind *kind); // medians of the phases

#endif
