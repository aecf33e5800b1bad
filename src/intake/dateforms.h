// SPDX-License-Identifier: GPL-3.0-or-later
// How a log writes its dates: in which order day, month and year stand, and from where a
// spreadsheet's day numbers count. Found only where its dates leave no doubt.
#ifndef CROSSWARD_INTAKE_DATEFORMS_H
#define CROSSWARD_INTAKE_DATEFORMS_H

#include "intake/stamp.h"
#include "record/finding.h"

// What the dates of a log show. Lines: 0 = none.
typedef struct {
    uint64_t dates;                         // whose order is the log's: 09/03/2031
    uint32_t first_line;                    // of such a date
    uint32_t ruled_out[DATE_ORDER_MDY + 1]; // by DateOrder: first line with a date that it can't be
    uint32_t short_line;                    // first with two digits of the year
    uint64_t serials;                       // day numbers
    uint32_t serial_line;                   // first
    uint32_t mixed_line, mixed_column;      // where a column's form changes, to or from serials
    uint64_t from_1900, from_1904;          // records whose other dates fit the serials so counted
} DateForms;

// Looks at the cells of the columns marked in is_date (one for each of n_heads), in the records of
// text (`length` bytes that follow the heading; its first line is number `line`). Only records
// count: rows with as many cells as the heading, more than one of them filled. A date that exists
// in no order says nothing of it.
DateForms dateforms_look(const char *text, size_t length, char delimiter, const bool *is_date,
                         unsigned n_heads, uint32_t line);

// Whether they are of a form that the settings leave open.
bool dateforms_open(const DateForms *forms, const LogSettings *settings);

// Sets what the settings leave open of style: its order, to the one that all dates allow (UNSET if
// there are none), and its serial_base, to 1904 if other dates of the same records say so, else
// 1900. False, the line, and an error (READER_ERROR_REFUSED, without file and line) that says what
// to write in network.ini, if more than one order is possible, if none is, if years of two digits
// have no century_pivot, if a column mixes serials and other dates, or the other dates fit both
// bases.
bool dateforms_choose(const DateForms *forms, const LogSettings *settings, StampStyle *style,
                      uint32_t *line, GError **error);

// What to say of the order that was chosen: which it is, and the line that shows it.
const char *dateforms_order_text(const DateForms *forms, DateOrder order, Findings *findings);

#endif
