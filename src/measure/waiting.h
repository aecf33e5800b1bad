// SPDX-License-Identifier: GPL-3.0-or-later
// The wait by urgency: how requests ended by when, departure, stand-down and death competing, and
// the phases of complete chains of times.
#ifndef CROSSWARD_MEASURE_WAITING_H
#define CROSSWARD_MEASURE_WAITING_H

#include "measure/period.h"
#include "record/transfers.h"
#include "stats/interval.h"

#define WAITING_MARKS 10 // round times, from a quarter of an hour to a week
#define WAITING_PHASES 5 // between the six times from requested_at to handed_over_at

typedef enum { WAITING_LEFT, WAITING_STOOD_DOWN, WAITING_DIED, WAITING_ENDS } WaitingEnd;

typedef struct {
    double minutes;                  // since the request
    StatsInterval end[WAITING_ENDS]; // proportion that had ended so by then (incidence.h)
    double open;                     // proportion without any end by then: 1 less the others
    double at_risk;                  // requests still open just before
} WaitingPoint;

typedef struct {
    uint8_t urgency;
    size_t requests;               // that the curve is made of
    size_t open;                   // of them: censored on the day that their log was received
    size_t left_out;               // more of that urgency, without the times that are needed
    size_t ended[WAITING_ENDS];    // and how those that did end ended
    GArray *points;                // of WaitingPoint, minutes rising; empty without requests
    GArray *marks;                 // of WaitingPoint at waiting_mark; empty without requests
    size_t chains;                 // transfers with all six times known and in order
    double median[WAITING_PHASES]; // minutes, of these; NaN without any
} WaitingGroup;

// The three urgencies in order: GPtrArray of WaitingGroup *, free with g_ptr_array_unref. unit:
// sending unit, 0 = all; span: the months that a record must belong to. A request ends with its
// departure, or when it was stood down, or when the patient died waiting; without any of these it
// is open, and censored on received[file of the record], the day its log was received
// (WHEN_UNKNOWN: left out). Waits beyond the network's cap are left out. Derived columns must be
// filled.
GPtrArray *waiting_groups(const Transfers *t, const Network *network, const int32_t *received,
                          uint16_t unit, const Period *span, double confidence);

// Minutes of mark k, below WAITING_MARKS: 15, 30, 60, 120, 240, 480, 1, 2 and 4 days, a week.
double waiting_mark(unsigned k);

// Names of the phases, for people, and codes of the ends as the field `ended` has them; literals.
const char *waiting_phase(unsigned phase);
const char *waiting_end(WaitingEnd end);

#endif
