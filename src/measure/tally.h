// SPDX-License-Identifier: GPL-3.0-or-later
// Sums of one indicator over every cell (unit or group, and month). counted.h has them of all.
#ifndef CROSSWARD_MEASURE_TALLY_H
#define CROSSWARD_MEASURE_TALLY_H

#include "measure/block.h"

// What the records of a cell add up to. Durations in minutes.
typedef struct {
    uint64_t total, unknown;      // records counted; records unknown
    double sum, squares, largest; // of numbers of events, or of durations (rate, hours)
    double exposure;              // transfers, minutes or km
} TallySums;

// A cell: a unit's place in CountData.units (0 = all), months [from, to) from CountData.first on,
// and, if by is not -1, the position `group` in the codes of the indicator's field by. A group of
// one unit is known over the months of `all` only, whatever from and to. judged: only of the
// records that units are judged by (judged.h); by is -1 then.
typedef struct {
    unsigned place;
    int from, to;
    int by;
    unsigned group;
    bool judged;
} TallyCell;

typedef struct Tally Tally;

// Empty: of units, of all records and of those that units are judged by; of every breakdown; and of
// units and each breakdown.
Tally *tally_new(const CountData *data, const Indicator *indicator);

// Adds the records of a block. Once all are there, tally_finish must come before any cell is asked
// for.
void tally_add(Tally *tally, Block *block);
void tally_finish(Tally *tally);

void tally_free(Tally *tally);

// Sums of a cell; part: of a mix, counts by code or unit (tally_values of them), else not touched.
// For a mix, total is the sum of the parts.
TallySums tally_cell(const Tally *tally, TallyCell cell, uint64_t *part);
size_t tally_values(const Tally *tally);

// Position of a value in the codes of the indicator's field by.
unsigned tally_group(const Tally *tally, unsigned by, uint16_t value);

#endif
