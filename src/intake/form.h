// SPDX-License-Identifier: GPL-3.0-or-later
// What a column of text looks like: stamps, dates, clocks, numbers, or plain text.
#ifndef CROSSWARD_INTAKE_FORM_H
#define CROSSWARD_INTAKE_FORM_H

#include <glib.h>

typedef enum {
    FORM_TEXT,
    FORM_STAMP,      // date and clock
    FORM_DATE,       // date alone
    FORM_CLOCK,      // clock alone
    FORM_SERIAL,     // a spreadsheet's days since 1900 or 1904, with a fraction
    FORM_SERIAL_DAY, // the same, whole
    FORM_WHOLE,      // whole numbers
    FORM_DECIMAL,    // numbers with a decimal point or comma
} Form;

// The form of one cell.
Form form_of_cell(const char *cell);

// The form of at least nine tenths of the cells (char *) that are not blank; FORM_TEXT if none is.
Form form_of_column(const GPtrArray *cells);

// A number that puts stamps of one column style in order (days; the day first unless the year is),
// -1 if the cell is no stamp or serial.
double form_number(const char *cell);

#endif
