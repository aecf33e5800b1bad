// SPDX-License-Identifier: GPL-3.0-or-later
// A sample with its equal values put together. Durations are whole minutes: many records come to
// few different values, and what works on those takes no longer however many records there are.
#ifndef CROSSWARD_STATS_RUNS_H
#define CROSSWARD_STATS_RUNS_H

#include <stddef.h>
#include <stdint.h>

// A plain sorted list is a sample too, with upto NULL: each of its values, repeated ones also, is a
// run of one.
typedef struct {
    size_t k;            // runs; 0: an empty sample
    const double *value; // ascending
    const double *upto;  // how many of the sample lie at or below each, a whole number
} Runs;

// Size of the sample.
double runs_size(Runs runs);

// How many of the sample lie at or below run i; how many run i holds.
static inline double runs_upto(Runs r, size_t i) {
    return r.upto == NULL ? (double)i + 1 : r.upto[i];
}

static inline double runs_count(Runs r, size_t i) {
    return r.upto == NULL ? 1 : i > 0 ? r.upto[i] - r.upto[i - 1] : r.upto[0];
}

// The value at a rank from 1; ranks outside are taken as the nearest. NaN of an empty sample.
double runs_at(Runs runs, double rank);

// The following write into `room` and return what stands there, to live as long as it does.

// Sorted whole numbers; room: 2 n numbers, or twice as many as there are different ones.
Runs runs_of_whole(const uint32_t *sorted, size_t n, double *room);

// Several samples taken together, equal values put together; no NaN. room: four numbers for each
// run of the parts.
Runs runs_together(const Runs *part, size_t parts, double *room);

// What remains of a sample, equal values put together in it, when a part of it is taken away;
// room: 2 all.k numbers.
Runs runs_without(Runs all, Runs part, double *room);

// The sample and `times` more of a value that is below or above all of it; room: 2 (k + 1) numbers.
Runs runs_with(Runs runs, double value, double times, double *room);

#endif
