// SPDX-License-Identifier: GPL-3.0-or-later
// One record of a log, cell by cell -> a transfer in the store, or a row put aside.
#ifndef CROSSWARD_INTAKE_ROW_H
#define CROSSWARD_INTAKE_ROW_H

#include "intake/guard.h"
#include "intake/layout.h"
#include "intake/memo.h"
#include "record/finding.h"

// Records kept, by what was done to their clock times without a date of their own.
typedef struct {
    uint64_t dated_before; // one or more took the date of the stamp before it
    uint64_t next_day;     // one or more crossed midnight
} RowTimes;

// Reads the records of one piece of a log in turn. Lines are counted from the piece's first.
typedef struct {
    const Layout *layout;
    Transfers *t;          // where records go
    Findings *findings;    // about this piece; file 0
    uint64_t rows;         // records so far that are not blank
    uint32_t line;         // line that the record starts on
    uint32_t column;       // its cells so far
    uint32_t filled;       // those of them that are not empty
    bool says_total;       // the first of these begins with such a word
    guint findings_before; // findings before the record
    bool repeats_heading;  // every cell so far equals its heading
    RowTimes times;
    bool undecided; // a record had a date that can't be read (CellRecord)
    bool no_memory;
    uint16_t keeper; // layout's, as an index of t
    CellRecord record;
    Memo **memo; // of each column with few texts, one a target
    char delimiter;
    uint8_t *masks;     // MaskColumn of each column
    GuardColumn *guard; // tally of each column's text cells, of records only
    GArray *sights;     // Sight: those of this row, not yet tallied
    GArray *held;       // RowHeld: cells of this row that wait for the record's day
    GString *held_text;
} Row;

// A row for the records of a log with this layout and delimiter. Clear with row_clear; layout, t
// and findings must outlive it.
void row_init(Row *row, const Layout *layout, char delimiter, Transfers *t, Findings *findings);
void row_clear(Row *row);

// Begins another piece of the log: t and findings were emptied; what texts mean is remembered.
void row_restart(Row *row);

// A record begins on that line; its next cell; its end (text: the n bytes of the whole record,
// which are kept only if it is put aside). Memory that ran out shows in no_memory.
void row_begin(Row *row, uint32_t line);
void row_cell(Row *row, const char *text, size_t length);
void row_end(Row *row, const char *text, size_t n);

// Instead of row_end, for a record whose quotes are broken: it is put aside whole.
void row_broken(Row *row, const char *text, size_t n);

#endif
