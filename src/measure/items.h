// SPDX-License-Identifier: GPL-3.0-or-later
// A share that asks for several things at once, taken apart: each of them by itself.
#ifndef CROSSWARD_MEASURE_ITEMS_H
#define CROSSWARD_MEASURE_ITEMS_H

#include "measure/count.h"
#include "stats/interval.h"

// Records over the audited span in which it is there, of those in which that is known; Wilson
// limits (proportions, all NaN if total is 0).
typedef struct {
    uint64_t events, total, unknown;
    StatsInterval share;
    StatsInterval together; // of a unit: exact limits that hold for every unit and item at once
                            // (Sidak 1967): a unit whose limits leave the network's value is
                            // named. Wilson's would name units of a record or two, whose limits at
                            // such confidence miss far more often than they say
} ItemsCell;

typedef struct {
    uint16_t indicator; // index into the catalogue: the share that asks for it
    FieldId field;
    char *condition;  // the term as the catalogue has it: "mains_power=yes|not-needed"
    ItemsCell *cells; // by place in CountData.units, 0 = all
} Item;

// The terms of the built-in equipment_ready_share and papers_complete_share as the catalogue
// defines them, in its order; each counts among the same records as the whole share, and what is
// unknown of the others does not matter to it. GPtrArray of Item, free with g_ptr_array_unref.
GPtrArray *items_all(const CountData *data, const GPtrArray *catalogue, double confidence);

#endif
