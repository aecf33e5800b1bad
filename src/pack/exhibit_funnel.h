// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: units held against the network.
#ifndef CROSSWARD_PACK_EXHIBIT_FUNNEL_H
#define CROSSWARD_PACK_EXHIBIT_FUNNEL_H

#include "pack/exhibit.h"

// The kind's indicator as a funnel, crude or adjusted for case-mix; medians as a table only. NULL
// if it was not compared.
Exhibit *exhibit_funnel_crude(const Source *s, const ExhibitKind *kind);
Exhibit *exhibit_funnel_adjusted(const Source *s, const ExhibitKind *kind);

#endif
