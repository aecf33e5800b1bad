// SPDX-License-Identifier: GPL-3.0-or-later
// One cell of a log -> one value of a record.
#ifndef CROSSWARD_INTAKE_CELL_H
#define CROSSWARD_INTAKE_CELL_H

#include "record/transfers.h"

// Why a cell became unknown: a short code and a message, both literals; code NULL = it was read.
typedef struct {
    const char *code, *message;
} CellFault;

// A stamp of a record whose local time came twice; settled when the whole record is known.
typedef struct {
    FieldId field;
    uint32_t column;
    int32_t first, second; // minutes UTC
} CellTwice;

typedef struct {
    Draft draft;
    CellTwice twice[FIELD_STORED];
    unsigned n_twice;
} CellRecord;

// How one log writes its cells.
typedef struct {
    const WhenZone *zone; // of its local times
    int32_t received;     // last day that a time may lie on, WHEN_UNKNOWN = any
    char decimal;         // sign of decimals, '.' or ','
    char separator;       // between the events of a cell
} CellStyle;

// Reads text (not NUL-terminated) as the field's value into the record. An empty cell is unknown
// and no fault.
CellFault cell_read(CellRecord *record, Transfers *pool, FieldId field, uint32_t column,
                    const char *text, size_t length, const CellStyle *style);

// Sets every value of the record to unknown.
void cell_clear(CellRecord *record);

// Settles hours that came twice, where exactly one choice puts the record's stamps in order;
// returns how many stamps became unknown (all or none), which are then listed in record->twice.
unsigned cell_settle(CellRecord *record);

#endif
