// SPDX-License-Identifier: GPL-3.0-or-later
// What `plan` says and writes: sentences, the curve of power as a table and as a chart.
#ifndef CROSSWARD_PACK_PLANPACK_H
#define CROSSWARD_PACK_PLANPACK_H

#include "measure/planning.h"
#include "pack/chart.h"

// What the figures of a plan are called and counted in.
typedef struct {
    const char *subject; // "Non-clinical share", or what the person gave
    const char *unit;    // scale of a rate ("per 100 transfers"), else ""
    double times;        // a rate is told for so much exposure, else 1
    const char *records; // what a period's size is counted in: "transfers", "hours"
} PlanpackWords;

// The answers in sentences, a line each. Free with g_string_free.
GString *planpack_text(const Planning *plan, const PlanpackWords *words);

// size_each,quarters_each,power: the curve, 40 sizes up to twice what is needed (or 16 quarters).
GString *planpack_curve(const Planning *plan);
Chart *planpack_chart(const Planning *plan, const PlanpackWords *words);

#endif
