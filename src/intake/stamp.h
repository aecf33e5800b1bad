// SPDX-License-Identifier: GPL-3.0-or-later
// Dates and times as logs write them: text -> its parts, then parts -> a day once it is known in
// which order the log writes them. Pure functions; nothing is guessed.
#ifndef CROSSWARD_INTAKE_STAMP_H
#define CROSSWARD_INTAKE_STAMP_H

#include "intake/logsettings.h"

typedef enum {
    STAMP_NO_DATE,    // a clock alone: 14:05, 9.30, 09h30, 0930, 2:05 pm
    STAMP_YEAR_FIRST, // 2031-03-09, 2031/3/9, 20310309
    STAMP_NUMBERS,    // three numbers whose order is the log's: 09/03/2031, 9.3.31
    STAMP_MONTH_NAME, // 9 Mar 2031, 09-MAR-31
    STAMP_SERIAL      // a spreadsheet's day number: 47916, 47916.587
} StampForm;

typedef struct {
    StampForm form;
    int part[3];     // YEAR_FIRST, MONTH_NAME: year, month, day; NUMBERS: as written
    bool short_year; // the year has two digits
    double serial;   // of SERIAL, days
    bool has_clock;  // SERIAL: always
    int minute;      // of the day, 0 to 1440; seconds are cut; not for SERIAL
    bool has_offset; // Z or +hh:mm behind the clock
    int offset;      // minutes east of UTC
} Stamp;

// Reads a date, a time or both; false if the text is none of the forms.
bool stamp_read(const char *text, size_t length, Stamp *stamp);

// How a log writes its dates.
typedef struct {
    DateOrder order;   // UNSET: NUMBERS can't be read
    int century_pivot; // two-digit years below it are 20xx, the others 19xx; -1: none can be read
    int serial_base;   // 1900 or 1904
} StampStyle;

// Whether a stamp of the form NUMBERS may be a date of that order (whether its year was a leap year
// is not asked); UNSET: of any.
bool stamp_allows(const Stamp *stamp, DateOrder order);

typedef enum {
    STAMP_FINE,
    STAMP_IMPOSSIBLE, // no such day, or not between 1970 and 2100
    STAMP_WITHOUT_DATE,
    STAMP_NO_ORDER, // the order of day and month is not known
    STAMP_NO_PIVOT  // nor the century
} StampFit;

// The day (since 1970-01-01, local) that the stamp names.
StampFit stamp_day(const Stamp *stamp, const StampStyle *style, int32_t *day);

// The stamp's minute since 1970-01-01T00:00: UTC if it has an offset, else local. A serial is
// rounded to the nearest minute. Only for a stamp with date and clock, else false.
StampFit stamp_minute(const Stamp *stamp, const StampStyle *style, int32_t *minute);

// Reads a cell that holds a clock and no date: the forms of NO_DATE, a part of a day (0.587), or a
// date that only stands for 'no date' (the years 1899 to 1904, as spreadsheets and databases write
// it). Minute of the day, 0 to 1440. 0.25 is a quarter past midnight to one and six o'clock to
// another: so it is read only if `serials`, then as part of a day.
bool stamp_clock(const char *text, size_t length, bool serials, int *minute);

#endif
