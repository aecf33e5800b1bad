// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of the case-mix models.
#ifndef CROSSWARD_PACK_MODELTABLES_H
#define CROSSWARD_PACK_MODELTABLES_H

#include "measure/compare.h"

// Each returns a whole file's text; free with g_string_free.

// casemix.csv: odds ratios of each model; a model that was not fitted has one row with the reason.
GString *modeltables_casemix(const Comparisons *comparisons);

// calibration.csv: of each model that was fitted, expected and observed events by tenth of risk.
GString *modeltables_calibration(const Comparisons *comparisons);

#endif
