// SPDX-License-Identifier: GPL-3.0-or-later
// Which rows of two ends' logs are the same transfer: the choosing, without the joining.
#ifndef CROSSWARD_COHORT_PAIRING_H
#define CROSSWARD_COHORT_PAIRING_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

enum { PAIRING_TIMES = 3 }; // departed, arrived, requested

// A row as the choosing sees it.
typedef struct {
    uint64_t block;            // with `from`: rows of different blocks are never paired
    uint64_t place;            // file << 32 | line, for a fixed order of what is said
    int32_t at[PAIRING_TIMES]; // minutes, WHEN_UNKNOWN
    int32_t day;
    uint32_t row;
    uint16_t from, to; // units; to: 0 = unknown, agrees with any
    uint8_t receiver;  // 1: the receiver's row, 0: the sender's
    uint8_t band, condition;
} PairingEntry;

typedef struct {
    int32_t window; // minutes
    bool same_id; // rows of a block share a pseudonym: band and condition may differ, a day will do
} PairingRules;

typedef struct {
    uint32_t sender, receiver; // rows
} PairingMatch;

typedef struct {
    uint32_t row, example; // a row of the other end that may be it
    uint64_t partners;     // how many may be
    bool only_ends;        // they agree in nothing but ends and day
} PairingDoubt;

typedef struct {
    GArray *matches; // of PairingMatch
    GArray *doubts;  // of PairingDoubt
    uint64_t doubtful, would_join;
} Pairing;

// Pairs the entries (they are put in order); adds to the result. See join.h for the rules.
void pairing_find(PairingEntry *entries, size_t n, const PairingRules *rules, Pairing *result);

#endif
