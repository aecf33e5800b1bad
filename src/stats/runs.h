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

// Size of the sample; how many of it run i holds.
double runs_size(Runs runs);
double runs_count(Runs runs, size_t i);

// The value at a rank from 1; ranks outside are taken as the nearest. NaN of an empty sample.
double runs_at(Runs runs, double rank);

// The following write into `room` and return what stands there, to live as long as it does.

// Sorted whole numbers; room: 2 n numbers, or twice as many as there are different ones.
Runs runs_of_whole(const uint32_t *sorted, size_t n, double *room);

// What remains of a sample when a part of it is taken away, equal values put together in both;
// room: 2 all.k numbers.
Runs runs_without(Runs all, Runs part, double *room);

// The sample and `times` more of a value that is below or above all of it; room: 2 (k + 1) numbers.
Runs runs_with(Runs runs, double value, double times, double *room);

#endif
