// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: Waiting times: quantiles by group.
#ifndef CROSSWARD_PACK_EXHIBIT_WAIT_H
#define CROSSWARD_PACK_EXHIBIT_WAIT_H

#include "pack/exhibit.h"

// The kind's duration by the groups of its field: middle half, median with limits, nine in ten.
Exhibit *exhibit_wait_quantiles(const Source *s, const ExhibitKind *kind);

#endif
