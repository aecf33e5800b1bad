// SPDX-License-Identifier: GPL-3.0-or-later
// Equipment and papers item by item: dots with intervals, and where the units lie.
#ifndef CROSSWARD_PACK_EXHIBIT_ITEMS_H
#define CROSSWARD_PACK_EXHIBIT_ITEMS_H

#include "pack/exhibit.h"

// Every item of the complete equipment and papers (items.h), and these two themselves.
Exhibit *exhibit_items_dots(const Source *s, const ExhibitKind *kind);

#endif
