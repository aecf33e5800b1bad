// SPDX-License-Identifier: GPL-3.0-or-later
// Counting: what each record adds to an indicator, and to which unit and month it belongs.
#ifndef CROSSWARD_MEASURE_COUNT_H
#define CROSSWARD_MEASURE_COUNT_H

#include "measure/catalogue.h"
#include "measure/period.h"

typedef struct {
    bool given;
    int first, end; // months of the audited span, half-open
} CountSpan;

// What is alike for every indicator. Read only once made, but for rooms.
typedef struct {
    const Transfers *t;     // borrowed
    const Network *network; // borrowed
    GArray *periods;        // of Period, in print order; 0 is `all`
    GArray *units;          // uint16_t: 0 (all), then the sending units by their codes' bytes
    GArray
        *codes[FIELD_COUNT]; // of the fields that the catalogue groups, mixes or judges by, else
                             // NULL: uint16_t values that occur, in print order, unknown (0) last
    uint16_t *position[FIELD_COUNT]; // of the same fields: place of each value in `codes`
    int first, months;               // months that records lie in: the first one, and how many
    uint16_t *month;                 // of each record, from `first` on
    uint16_t *place;                 // of each unit of t, in `units`; 0 if it sent nothing
    int16_t *slot[4];                // by PeriodKind: period that each month belongs to, -1 = none
    int32_t low_day, high_day;       // days that weeks are counted over
    GAsyncQueue *rooms; // lists that one indicator's durations were in, for the next one's
} CountData;

CountData *count_data_new(const Transfers *t, const Network *network, const GPtrArray *catalogue,
                          const CountSpan *span);
void count_data_free(CountData *data);

// OUT: no part of it; UNKNOWN: counted as unknown (record.md's table); IN: counted; EVENT: counted,
// and of a share an event.
typedef enum { COUNT_OUT, COUNT_UNKNOWN, COUNT_IN, COUNT_EVENT, COUNT_STATES } CountState;

// What one record adds to an indicator; the numbers matter for COUNT_IN only.
typedef struct {
    uint8_t state;   // CountState, IN for EVENT
    uint32_t events; // of a share 0 or 1, of a rate any number
    int32_t minutes; // its duration (quantile, hours, overlap)
    double exposure; // of a rate: 1 transfer, minutes of the hours, km
} CountRecord;

enum { COUNT_BLOCK = 1024 };

// State of a record of which a condition is asked besides: out where it is false, unknown at most
// where its value is not known.
static inline uint8_t count_narrowed(uint8_t state, uint8_t condition) {
    static const uint8_t both[][COUNT_STATES] = {
        [CONDITION_FALSE] = {COUNT_OUT, COUNT_OUT, COUNT_OUT, COUNT_OUT},
        [CONDITION_UNKNOWN] = {COUNT_OUT, COUNT_UNKNOWN, COUNT_UNKNOWN, COUNT_UNKNOWN},
        [CONDITION_TRUE] = {COUNT_OUT, COUNT_UNKNOWN, COUNT_IN, COUNT_EVENT}};
    return both[condition][state];
}

// Fills state[0..n) for the records [first, first + n); n at most COUNT_BLOCK. among and events:
// values of the indicator's conditions for these records; events is NULL if it has no such.
void count_states(const CountData *data, const Indicator *indicator, size_t first, size_t n,
                  const uint8_t *among, const uint8_t *events, uint8_t *state);

// Fills out[0..n) for the same records, whose states are given.
void count_numbers(const CountData *data, const Indicator *indicator, size_t first, size_t n,
                   const uint8_t *events, const uint8_t *state, CountRecord *out);

// Both, of conditions evaluated here: fills out[0..n) for the records [first, first + n); n at most
// COUNT_BLOCK.
void count_records(const CountData *data, const Indicator *indicator, size_t first, size_t n,
                   CountRecord *out);

// Value of a coded or unit field of a record: code or unit, 0 if unknown.
uint16_t count_value(const Transfers *t, FieldId field, size_t row);

// Parts of a mix in print order, uint16_t: all codes of its field, or the units that occur; one
// part 0 for any other measure. Free with g_array_unref.
GArray *count_parts(const CountData *data, const Indicator *indicator);

// Weeks of a period that count: its days from the first to the last that has a record (or of the
// asked span), both included, / 7.
double count_weeks(const CountData *data, const Period *period);

#endif
