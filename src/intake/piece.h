// SPDX-License-Identifier: GPL-3.0-or-later
// A piece of a log, from the start of a record on -> a small store of its own. Pieces are read by
// different threads at the same time.
#ifndef CROSSWARD_INTAKE_PIECE_H
#define CROSSWARD_INTAKE_PIECE_H

#include "intake/row.h"

// No record is longer: what goes on for ever has a quote that is not closed.
#define PIECE_LONGEST_RECORD ((size_t)16 << 20)

typedef struct Piece Piece;

// An empty piece of a log with that layout and delimiter. Free with piece_free.
Piece *piece_new(const Layout *layout, char delimiter);
void piece_free(Piece *piece);

// Empties a whole piece without a fault, whose findings were taken, for another text of the log:
// its room and what it remembers of texts serve again.
void piece_clear(Piece *piece);

// Reads more text of the log: UTF-8, from the start of a record if it is the piece's first, ending
// with a line (only the log's last need not). Line ends are LF, CRLF and CR. False when reading
// can't go on; piece_fault says why.
bool piece_feed(Piece *piece, const char *text, size_t length);

// Whether the text so far ends inside a record (a quoted cell holds the line end).
bool piece_inside(const Piece *piece);

// The log ends here.
bool piece_finish(Piece *piece);

// Why reading stopped, and the line (from 1 in this piece); NULL if it did not.
const char *piece_fault(const Piece *piece, uint32_t *line);

// What was read: lines, records that are not blank, what was done to times, the transfers (lines
// from 1) and findings.
uint32_t piece_lines(const Piece *piece);
uint64_t piece_rows(const Piece *piece);
RowTimes piece_times(const Piece *piece);
Transfers *piece_transfers(Piece *piece);
Findings *piece_findings(Piece *piece);

// Whether any time or date was a spreadsheet's serial.
bool piece_serials(const Piece *piece);

// Whether a record had a date of a form that must be looked for in the whole log before it can be
// read (dateforms.h).
bool piece_undecided(const Piece *piece);

// The guard's tally of each column.
const GuardColumn *piece_guard(const Piece *piece);

// Where the line that starts at text ends, its LF, CRLF or CR included; end if the text ends first.
// A CR that is the last byte counts as a line end.
const char *piece_line_end(const char *text, const char *end);

// How many of the first n bytes of text (of `length`) are whole records, as far as counting quotes
// tells; 0 if none are. A line end after an odd number of quotes lies inside a quoted cell.
size_t piece_whole_records(const char *text, size_t n, size_t length);

// Bytes of text up to its last line end; 0 if there is none.
size_t piece_whole_lines(const char *text, size_t length);

#endif
