// SPDX-License-Identifier: GPL-3.0-or-later
// The identifier guard: what may say who a patient is. It says where and of what kind, never what.
#ifndef CROSSWARD_INTAKE_GUARD_H
#define CROSSWARD_INTAKE_GUARD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef enum {
    GUARD_NONE,
    GUARD_NUMBER, // national or hospital number of a person
    GUARD_BIRTH,  // date of birth
    GUARD_EMAIL,
    GUARD_PHONE,
    GUARD_POSTCODE,
    GUARD_NAME, // a person's name, or a title before one
    GUARD_AGE,  // an exact age over 89
} GuardKind;

// "date of birth", ...: for messages.
const char *guard_word(GuardKind kind);

// What a column's heading says that it holds ("surname", "date of birth", "e-mail").
GuardKind guard_heading(const char *heading, size_t length);

// What one cell is, judged alone: e-mail, phone, postcode with its space, a title before a name, an
// exact age over 89 in words.
GuardKind guard_cell(const char *text, size_t length);

// Whether it has ten digits (blanks and hyphens apart) of which the last is the modulus-11 check
// digit: weights 10 to 2, 11 less the remainder, 11 written 0, 10 never given out. One random
// number in eleven passes, so one cell proves nothing.
bool guard_check_digit(const char *text, size_t length, bool *ten_digits);

// What one cell looks like, alone and as part of a column.
typedef struct {
    GuardKind kind;      // guard_cell
    bool ten, passed;    // ten digits; with the check digit right
    bool stray;          // a unit's code that may not be shown; set by who knows the column
    bool postcode, name; // a postcode without a blank; two to four capitalised words
    uint16_t year;       // of a calendar date in it, 0 = none
    uint8_t short_year;  // else of one with two digits (3/4/51, 3.4.51), and 1; 0 = none
    bool whole;          // that date is all there is
} GuardSight;

GuardSight guard_look(const char *text, size_t length);

// Whether a cell's text may be shown to a person: it is of no identifying form by itself, and holds
// no ten-digit number whose check digit is right.
bool guard_may_show(const char *text, size_t length);

// A column's text cells, tallied.
typedef struct {
    uint64_t cells; // not blank
    uint64_t ten, passed, strays, postcodes, names, dates;
    uint64_t short_dates; // whole cells
    uint16_t low, high;   // years of the dates
    uint16_t short_low, short_high;
    uint32_t first_line[8]; // by GuardKind: where the first cell of that form stands, 0 = none
    GuardKind kind;         // of the first cell that is identifying by itself
    uint32_t line;          // where that stands
} GuardColumn;

// Adds a cell (not blank) on that line. Pieces of a file are tallied apart, then merged in order;
// line_base is what the later piece's lines lack.
void guard_add(GuardColumn *column, const GuardSight *sight, uint32_t line);
void guard_merge(GuardColumn *into, const GuardColumn *later, uint32_t line_base);

// What the whole column is, and the line of the first cell that shows it. Ten-digit numbers are an
// identifier if so many pass the check that chance (1 in 11) would do it less than once in 1,000;
// unit codes (strays) already if one passes while most cells are no such numbers.
GuardKind guard_verdict(const GuardColumn *column, uint32_t *line);

#endif
