// SPDX-License-Identifier: GPL-3.0-or-later
// The durations of each cell of an indicator, in order: what quantiles and overlaps are made of.
#ifndef CROSSWARD_MEASURE_DURATIONS_H
#define CROSSWARD_MEASURE_DURATIONS_H

#include "measure/count.h"
#include "stats/runs.h"

// A cell (as TallyCell) with n known durations.
typedef struct {
    unsigned place, period; // in CountData.units and .periods
    int by;
    unsigned group;
    size_t n;
    size_t unknown;       // records of the cell whose duration is not known (not durations_at)
    Runs minutes;         // of a quantile (not durations_at), else empty
    const uint32_t *rows; // records by sending unit and start (overlap), else NULL
} DurationsCell;

// By urgency, whether the indicator has such a breakdown or not (of a quantile).
enum { DURATIONS_BY_URGENCY = CATALOGUE_MOST_BY };

// Cells of each unit or of all, of a breakdown or of none, for one kind of period.
typedef struct {
    bool units;
    int by; // -1: none
    PeriodKind kind;
    bool judged; // of the records alone that units are judged by (judged.h)
} DurationsFace;

// Faces that differ in kind or units alone do best one after another. Calls `each` once for each
// cell of the faces, empty ones too; the lists live during the call only.
typedef void (*DurationsEach)(void *user, const DurationsCell *cell);
void durations_deal(const CountData *data, const Indicator *indicator, const DurationsFace *faces,
                    size_t n, DurationsEach each, void *user);

// The cells that summary.csv has of the indicator.
void durations_each(const CountData *data, const Indicator *indicator, DurationsEach each,
                    void *user);

// The same of a quantile, but not all durations of a cell, only those at certain ranks (from 1).
// ask: ranks wanted of a cell of n durations, n > 0; a rank of 0 asks for nothing. tell: each cell
// with the durations at those ranks, minutes[i] that at the i-th (nothing for rank 0; of an empty
// cell none counts).
enum { DURATIONS_RANKS = 16 };
typedef struct {
    void (*ask)(void *user, size_t n, size_t rank[DURATIONS_RANKS]);
    void (*tell)(void *user, const DurationsCell *cell, const uint32_t minutes[DURATIONS_RANKS]);
    void *user;
} DurationsAsked;
void durations_at(const CountData *data, const Indicator *indicator, const DurationsAsked *asked);

// Gives back the room that all of these keep in the data from one indicator to the next: for the
// end of a stage that dealt out many.
void durations_give_back(const CountData *data);

// A copy of runs that lasts until *room is freed with g_free.
Runs durations_keep(Runs runs, double **room);

#endif
