// SPDX-License-Identifier: GPL-3.0-or-later
// The column store: many transfers as typed columns, one value a field and transfer.
#ifndef CROSSWARD_RECORD_TRANSFERS_H
#define CROSSWARD_RECORD_TRANSFERS_H

#include "record/field.h"
#include "record/network.h"

#include <glib.h>

#define TRANSFERS_WIDTHS (KIND_NUMBER + 1) // one shared column a kind of field

typedef struct {
    uint8_t category, harm; // values of the lists event and field_harm; harm 0 = not graded
} Event;

typedef struct {
    size_t n;    // transfers
    size_t room; // transfers that fit
    // n values each: uint8_t (codes, derived), uint16_t (units), int32_t (days, minutes), double
    // (numbers), uint64_t (ids), uint32_t (events). NULL: no record has a value, until
    // transfers_seal, which lets such fields, days apart, share one column of unknowns; they are
    // only read.
    void *column[FIELD_COUNT];
    void *unknown[TRANSFERS_WIDTHS]; // those shared columns
    bool sealed;
    bool ids_dropped;        // of ids a uint8_t is left: 1 = known, 0 = unknown
    uint16_t *file;          // index of the input that the record came from
    uint32_t *line;          // physical line it starts on
    uint16_t *other_file;    // the other end's row that was joined into it; NULL: nothing is joined
    uint32_t *other_line;    // 0 where nothing is joined to this one
    GPtrArray *units;        // char *; index 0 is ""
    GHashTable *unit_index;  // code -> index
    bool units_full;         // a unit code did not fit any more
    GArray *events;          // Event, all distinct lists one after another
    GArray *event_starts;    // uint32_t; list i is [starts[i], starts[i+1]); list 0 =
                             // unknown, so empty
    GHashTable *event_index; // GBytes of a list -> index
} Transfers;

// One record on its way into the store: a value a field, WHEN_UNKNOWN or 0 where unknown.
typedef struct {
    uint64_t id[2];              // transfer_id, episode_id
    int64_t value[FIELD_STORED]; // all but ids and numbers
    double distance_km;          // NaN if unknown
    uint16_t file;
    uint32_t line;
} Draft;

Transfers *transfers_new(void);
void transfers_free(Transfers *t);

// Sets every value of the draft to unknown.
void transfers_clear_draft(Draft *draft);

// Adds a record; false (nothing added) when memory runs out. A column comes into being with its
// first known value.
bool transfers_add(Transfers *t, const Draft *draft);

// Appends all of `from`, whose units and lists of events get their indices in t; file and line_base
// are set and added for each record. False when memory runs out.
bool transfers_absorb(Transfers *t, const Transfers *from, uint16_t file, uint32_t line_base);

// Takes back what came after there were n transfers and n_units units (units->len).
void transfers_truncate(Transfers *t, size_t n, guint n_units);

// Takes all records, units and lists of events out; the room stays for as many others.
void transfers_empty(Transfers *t);

// Ends the reading: each field that no record has shares a column of unknowns, so that readers need
// not ask (of days, which fill 4 bytes a transfer and are seldom read, transfers_date asks); adding
// records undoes it. False when memory runs out.
bool transfers_seal(Transfers *t);

// The field's own column, to be written to (also after transfers_seal); NULL when memory runs out.
void *transfers_own(Transfers *t, FieldId field);

// Says that another row was joined into this transfer.
void transfers_set_other(Transfers *t, size_t row, uint16_t file, uint32_t line);

// Keeps the transfers for which keep[i] is not 0, in order.
void transfers_keep(Transfers *t, const uint8_t *keep);

// Forgets the pseudonyms, for who joins nothing by them any more; only whether one was known stays.
// No records may be added afterwards.
void transfers_drop_ids(Transfers *t);

// Index of a unit code, added if new; 0 for a code of 256 bytes or more, and when 65,535 are there
// already (then units_full is set).
uint16_t transfers_unit(Transfers *t, const char *code, size_t length);

// Index of a list of events.
uint32_t transfers_events(Transfers *t, const Event *events, size_t n);

// The events of a list by its index; *n = 0 for an empty list, and for index 0, unknown.
const Event *transfers_event_list(const Transfers *t, uint32_t list, size_t *n);

// The events of a transfer; *n = 0 for none or unknown (then the column holds 0).
const Event *transfers_events_of(const Transfers *t, size_t row, size_t *n);

// Typed columns.
static inline const uint8_t *transfers_codes(const Transfers *t, FieldId f) {
    return t->column[f];
}
static inline const uint16_t *transfers_units(const Transfers *t, FieldId f) {
    return t->column[f];
}
static inline const int32_t *transfers_times(const Transfers *t, FieldId f) {
    return t->column[f];
}

// A day that the record says itself, WHEN_UNKNOWN if it says none.
static inline int32_t transfers_date(const Transfers *t, FieldId f, size_t row) {
    return t->column[f] ? ((const int32_t *)t->column[f])[row] : WHEN_UNKNOWN;
}

// Local day that a transfer belongs to: of requested_at, else transfer_date, else departed_at.
int32_t transfers_day(const Transfers *t, size_t row, const Network *network);

// Minutes from one time to another: -1 if either is unknown, they are out of order, or more than
// the cap apart.
static inline int32_t transfers_between(int32_t from, int32_t to, int32_t cap) {
    return from == WHEN_UNKNOWN || to == WHEN_UNKNOWN || to < from || to - from > cap ? -1
                                                                                      : to - from;
}

// The same of two stamps of a transfer.
int32_t transfers_minutes(const Transfers *t, size_t row, FieldId from, FieldId to, int32_t cap);

#endif
