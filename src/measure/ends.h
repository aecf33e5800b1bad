// SPDX-License-Identifier: GPL-3.0-or-later
// What two logs of the same transfers tell: how well they agree, and how many were probably never
// logged.
#ifndef CROSSWARD_MEASURE_ENDS_H
#define CROSSWARD_MEASURE_ENDS_H

#include "cohort/join.h"
#include "stats/interval.h"

// Agreement of the two ends about a field, over the joined pairs in which both said something.
typedef struct {
    FieldId field; // events: whether any adverse event is listed
    uint64_t sender_known, receiver_known, both, equal;
    uint64_t near;       // times: at most MERGE_NEAR minutes apart
    double agreement;    // equal / both; for events by whether there is any
    StatsInterval kappa; // Cohen's; NaN for fields without classes, and where it can't be told
} EndsField;

// How many transfers there probably were (see ENDS_ASSUMPTIONS).
typedef struct {
    uint16_t unit;                 // sending; 0 = the network
    uint64_t sender, receiver;     // transfers that this end's log has
    uint64_t both;                 // that both have
    StatsInterval total, recorded; // transfers in all, limits from those that any log has; share of
                                   // them that any log has
} EndsUnit;

typedef struct {
    GArray *fields; // of EndsField, in the order of the table; those that both ends ever know
    GArray *units;  // of EndsUnit: the network, then the sending units in byte order of their codes
    uint64_t joined, doubtful;
    uint64_t logged, logged_if_joined; // transfers in the logs; if the doubtful pairs were joined
    bool left_out;                     // not all of these are used
    double confidence;
} Ends;

// What the estimate of the total takes for granted, a sentence an item, NULL at the end.
extern const char *const ends_assumptions[];

// Kappa: Cohen 1960, with the standard error of Fleiss, Cohen & Everitt 1969. Totals: Chapman 1951
// with transformed-logit limits (Sadinle 2009), from the used transfers that departed, between a
// unit that logs what it sends and one that logs what it receives. Limits at the given confidence.
// Free with ends_free.
Ends *ends_measure(const Transfers *t, const Join *join, double confidence);
void ends_free(Ends *ends);

#endif
