// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: what absences cost the sending units, how thin it got meanwhile, and whose hours.
#ifndef CROSSWARD_PACK_EXHIBIT_COVER_H
#define CROSSWARD_PACK_EXHIBIT_COVER_H

#include "pack/exhibit.h"

// Tables by sending unit, the network first; on a unit's page its own line and the network's.
Exhibit *exhibit_cover_hours(const Source *s, const ExhibitKind *kind); // hours away, their bounds
Exhibit *exhibit_cover_left(const Source *s, const ExhibitKind *kind);  // out of hours, cover kept
Exhibit *exhibit_cover_at_once(const Source *s, const ExhibitKind *kind); // how many at once

// Hours away by the escort's grade, of the unit in focus or the network.
Exhibit *exhibit_cover_grades(const Source *s, const ExhibitKind *kind);

#endif
