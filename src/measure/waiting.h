// SPDX-License-Identifier: GPL-3.0-or-later
// The wait by urgency: cumulative departures, with those who never left competing, and the phases
// of complete chains of times.
#ifndef CROSSWARD_MEASURE_WAITING_H
#define CROSSWARD_MEASURE_WAITING_H

#include "record/transfers.h"
#include "stats/interval.h"

#define WAITING_PHASES 5 // between the six times from requested_at to handed_over_at

typedef struct {
    double minutes;     // since the request
    StatsInterval left; // proportion that had left by then (incidence.h)
    double at_risk;     // requests still open just before
} WaitingPoint;

typedef struct {
    uint8_t urgency;
    size_t requests;               // that the curve is made of
    size_t open;                   // of them: censored on the day that their log was received
    size_t left_out;               // more of that urgency, without the times that are needed
    GArray *points;                // of WaitingPoint, minutes rising; empty without requests
    size_t chains;                 // transfers with all six times known and in order
    double median[WAITING_PHASES]; // minutes, of these; NaN without any
} WaitingGroup;

// The three urgencies in order: GPtrArray of WaitingGroup *, free with g_ptr_array_unref. unit:
// sending unit, 0 = all. A request ends with its departure, or without one when it was stood down
// or the patient died; without any of these it is open, and censored on received[file of the
// record], the day its log was received (WHEN_UNKNOWN: left out). Waits beyond the network's cap
// are left out. Derived columns must be filled.
GPtrArray *waiting_groups(const Transfers *t, const Network *network, const int32_t *received,
                          uint16_t unit, double confidence);

// Names of the phases, for people; literals.
const char *waiting_phase(unsigned phase);

#endif
