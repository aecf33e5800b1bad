// SPDX-License-Identifier: GPL-3.0-or-later
// The things that a complete transfer needs, one by one, as a CSV file.
#ifndef CROSSWARD_PACK_ITEMSTABLE_H
#define CROSSWARD_PACK_ITEMSTABLE_H

#include "measure/estimate.h"
#include "measure/items.h"

// items.csv: every item (items.h) by unit, `all` first. Free with g_string_free.
GString *itemstable_csv(const GPtrArray *items, const Estimates *estimates);

#endif
