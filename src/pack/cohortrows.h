// SPDX-License-Identifier: GPL-3.0-or-later
// The cohort as rows of the exported database: units, transfers, events.
#ifndef CROSSWARD_PACK_COHORTROWS_H
#define CROSSWARD_PACK_COHORTROWS_H

#include "measure/count.h"
#include "pack/sqlwriter.h"

// Fills the tables units, transfers and events. The table inputs must be there; data gives the
// transfers, their months and the network.
void cohortrows_write(SqlWriter *w, const CountData *data);

#endif
