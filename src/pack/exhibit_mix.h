// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: Mixes as stacked bars.
#ifndef CROSSWARD_PACK_EXHIBIT_MIX_H
#define CROSSWARD_PACK_EXHIBIT_MIX_H

#include "pack/exhibit.h"

// The kind's mix as bars that make 100 %: all, then by the kind's field; a network's then by unit.
Exhibit *exhibit_mix_stack(const Source *s, const ExhibitKind *kind);

#endif
