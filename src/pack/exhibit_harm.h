// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: what went wrong, with its degree of harm.
#ifndef CROSSWARD_PACK_EXHIBIT_HARM_H
#define CROSSWARD_PACK_EXHIBIT_HARM_H

#include "pack/exhibit.h"

// Events by category, each bar in degrees of harm.
Exhibit *exhibit_harm_ladder(const Source *s, const ExhibitKind *kind);

#endif
