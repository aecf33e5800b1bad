// SPDX-License-Identifier: GPL-3.0-or-later
// Inventing a network: its units, its transfers, and what each end logged of them.
#ifndef CROSSWARD_COMMAND_SYNTH_INVENT_H
#define CROSSWARD_COMMAND_SYNTH_INVENT_H

#include "record/transfers.h"

enum { SYNTH_EVENTS = 4, SYNTH_TIMES = 9 };

// A record as somebody logged it; unknown: 0, WHEN_UNKNOWN, -1.
typedef struct {
    uint64_t number; // of the pseudonym
    uint16_t from, to;
    bool received;              // the receiver's record
    uint8_t code[FIELD_STORED]; // values of fields with codes
    int32_t at[SYNTH_TIMES]; // by synth_slot: local minutes, never in an hour that comes twice or
                             // not at all
    uint8_t events[SYNTH_EVENTS]; // different categories
    int n_events;
    uint8_t harm; // degree of all of them, 0 = not graded
    int tenths;   // of kilometres
    int age;      // years
} SynthRecord;

// Place of a time field in SynthRecord.at: the phases in their order, then ended_at.
static inline unsigned synth_slot(FieldId f) {
    return f == FIELD_ended_at ? SYNTH_TIMES - 1 : (unsigned)f - (unsigned)FIELD_requested_at;
}

typedef struct {
    char *code, *name;
    double moves; // a quarter
    bool logs_received;
    GArray *log; // of SynthRecord
} SynthUnit;

typedef struct {
    int seed, quarters, units;
    int transfers; // about so many requests; 0 = as the network is
} SynthSettings;

// A transfer that both ends logged: the numbers of its records there.
typedef struct {
    uint16_t from, to;
    uint64_t sent, received;
} SynthPair;

typedef struct {
    GArray *units;         // of SynthUnit
    GArray *pairs;         // of SynthPair
    uint64_t requests;     // that there were
    uint64_t moved_in_two; // of these: departed, between units that log what they send and receive
    uint64_t sent_logged, received_logged, both_logged, never_logged; // of those
} SynthNetwork;

// The planted effects, as truth.json states them.
enum {
    SYNTH_FIRST_YEAR = 2030,
    SYNTH_NON_CLINICAL_UNIT = 3,
    SYNTH_WEAK_PAPERS_UNIT = 5,
    SYNTH_SILENT_UNIT = 4,
    SYNTH_SILENT_FIRST = 13, // months from the first, both included
    SYNTH_SILENT_LAST = 14,
    SYNTH_BETTER_FROM = 4 // quarter
};
#define SYNTH_VENTILATED_ODDS_RATIO 3.0
#define SYNTH_EVENT_ODDS 0.09 // of a patient who is not ventilated
#define SYNTH_FASTER 0.75     // factor of time-critical waits
#define SYNTH_NON_CLINICAL 0.15
#define SYNTH_NON_CLINICAL_MANY 0.35
#define SYNTH_PAPERS 0.9
#define SYNTH_PAPERS_WEAK 0.62
#define SYNTH_SENT_LOGGED 0.95
#define SYNTH_RECEIVED_LOGGED 0.7

// Local zone of everything invented.
#define SYNTH_ZONE "Europe/Paris"

// Free with synth_invent_free.
SynthNetwork *synth_invent(const SynthSettings *settings);
void synth_invent_free(SynthNetwork *network);

#endif
