// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: control charts and run charts of a measure over time.
#ifndef CROSSWARD_PACK_EXHIBIT_CONTROL_H
#define CROSSWARD_PACK_EXHIBIT_CONTROL_H

#include "pack/exhibit.h"

// The kind's indicator by month (network) or quarter (the unit in focus) between control limits,
// with what the tests for change say. NULL if it has no series.
Exhibit *exhibit_control_chart(const Source *s, const ExhibitKind *kind);

// The same about its median, with the run rules in words (stats/run_chart.h).
Exhibit *exhibit_control_run(const Source *s, const ExhibitKind *kind);

#endif
