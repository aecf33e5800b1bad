// SPDX-License-Identifier: GPL-3.0-or-later
// comparisons.csv: units against the network.
#ifndef CROSSWARD_PACK_COMPARISONS_H
#define CROSSWARD_PACK_COMPARISONS_H

#include "measure/compare.h"

// Whole file's text; free with g_string_free.
GString *comparisons_csv(const Comparisons *comparisons);

#endif
