// SPDX-License-Identifier: GPL-3.0-or-later
// One cell of a log -> one value of a record.
#ifndef CROSSWARD_INTAKE_CELL_H
#define CROSSWARD_INTAKE_CELL_H

#include "intake/mapping.h"
#include "intake/stamp.h"
#include "record/transfers.h"

// Why a cell became unknown, or what was done to read it: a short code and a message, both
// literals; code NULL = it was simply read.
typedef struct {
    const char *code, *message;
    bool repaired; // the value is known nevertheless
} CellFault;

// A stamp of a record whose local time came twice; settled when the whole record is known.
typedef struct {
    FieldId field;
    uint32_t column;
    int32_t first, second; // minutes UTC
} CellTwice;

// What is known of a time that stands in several cells, or lacks its date.
typedef struct {
    bool has_day, has_clock;
    bool shared;     // the date is that of the record's first stamp
    bool lost;       // it has a date that can't be read, which was told
    bool stray;      // a clock where the log should write date and clock
    int32_t day;     // local
    int minute;      // of the day, 0 to 1440
    uint32_t column; // that holds the clock
} CellPart;

typedef struct {
    Draft draft;
    CellTwice twice[FIELD_STORED];
    unsigned n_twice;
    bool serial_seen;  // a time or date was a serial; cell_clear leaves this as it is
    char day_text[10]; // the last date of an ISO 8601 time, since most are of one day or the next;
    int32_t day;       // and that day: cell_clear leaves these as they are, too
    bool dated_before; // a clock took the date of the stamp before it, or transfer_date
    bool next_day;     // and was put a day later, since it crossed midnight
    bool undecided;    // a date can't be read before it is known how the log writes dates
    uint64_t partial;  // bit of each field that has a part
    uint64_t clashing; // bit of each field that two columns say different things of
    CellPart part[FIELD_STORED];
    uint8_t harm;       // greatest degree that a column of its own says, 0 = none does
    bool events_untold; // a column of events could not be read
} CellRecord;

// Longest believable minutes from one stamp to another.
typedef struct {
    FieldId from, to;
    int32_t minutes;
} CellCap;

// How one log writes its cells.
typedef struct {
    const WhenZone *zone; // of its local times
    int32_t received;     // last day that a time may lie on, WHEN_UNKNOWN = any
    char decimal;         // sign of decimals, '.' or ','
    char separator;       // between the events of a cell
    StampStyle stamp;
    bool date_serials; // days may be a spreadsheet's serials, and clocks parts of a day
    bool mapped;       // by a mapping: `-` and `?` are unknown, a day may carry a clock
    CellCap caps[16];
    unsigned n_caps;
} CellStyle;

// Reads text (not NUL-terminated) as the field's value into the record. An empty cell is unknown
// and no fault. A time that lacks its date becomes a part, which phases_resolve completes.
CellFault cell_read(CellRecord *record, Transfers *pool, FieldId field, uint32_t column,
                    const char *text, size_t length, const CellStyle *style);

// Reads a time as most are written, 2031-03-09T14:05, of which there is nothing to tell; false, and
// nothing is done, if the text is anything else.
bool cell_read_stamp(CellRecord *record, FieldId field, const char *text, size_t length,
                     const CellStyle *style);

// As cell_read, for a cell that holds only the date or the clock of a time.
CellFault cell_read_part(CellRecord *record, FieldId field, MappingPart kind, bool shared,
                         uint32_t column, const char *text, size_t length, const CellStyle *style);

// The same for a degree of harm, which goes to the record's harm if it is greater.
CellFault cell_read_harm(CellRecord *record, const char *text, size_t length,
                         const CellStyle *style);

// Sets a time to a minute since 1970-01-01T00:00, local or UTC, as far as it exists.
CellFault cell_set_time(CellRecord *record, FieldId field, uint32_t column, int32_t minute,
                        bool is_utc, const CellStyle *style);

// Sets every value of the record to unknown.
void cell_clear(CellRecord *record);

#endif
