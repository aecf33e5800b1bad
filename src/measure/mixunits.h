// SPDX-License-Identifier: GPL-3.0-or-later
// Mixes by unit: whether units differ in what they are made of, and which part at which unit.
#ifndef CROSSWARD_MEASURE_MIXUNITS_H
#define CROSSWARD_MEASURE_MIXUNITS_H

#include "measure/estimate.h"
#include "stats/table.h"

// A part that a unit has more or less of than its share of all would give.
typedef struct {
    uint16_t unit; // index into the transfers' units
    uint16_t part; // code (or unit) of the mix's field
    double events, total, expected;
    double residual; // standardised (table_residual): about normal if units don't differ
} MixunitsCell;

typedef struct {
    uint16_t indicator; // index into the catalogue
    TableTest test;     // chi-square over units and parts, Cramer's V; `smallest` warns
    GArray *cells;      // of MixunitsCell, every unit and part that occur, by size of residual
} Mixunits;

// One for each mix, over the audited span, from the table of estimates. These tests say whether
// the network's units are alike, not which unit differs: they are not among those of single units
// (compare.h) and raise no signal. GPtrArray of Mixunits; free with g_ptr_array_unref.
GPtrArray *mixunits_all(const Estimates *estimates);

#endif
