// SPDX-License-Identifier: GPL-3.0-or-later
// Guesses, with evidence, which field each column of a foreign log is and which code each value.
#ifndef CROSSWARD_INTAKE_GUESS_H
#define CROSSWARD_INTAKE_GUESS_H

#include "intake/sample.h"
#include "record/field.h"

// How sure a guess is. CERTAIN: name and cells both say so, and nothing else fits.
typedef enum { GUESS_NONE, GUESS_GUESS, GUESS_LIKELY, GUESS_CERTAIN } GuessTrust;

// One row of the mapping that is proposed.
typedef struct {
    unsigned column;    // of the sample
    char *source_value; // NULL = the whole column
    const char *field;  // a literal: of the field table, "harm", or NULL: skipped unread
    char *value;        // code, "date", "clock", or NULL
    GuessTrust trust;
    char *evidence; // in words
} Guess;

// The rows of a proposed mapping, by column. Columns that the identifier guard names are proposed
// to be skipped, and none of their cells is repeated. GPtrArray of Guess, which frees them.
GPtrArray *guess_mapping(const Sample *sample);

// The sign between a cell's events, where it is another than logs are read by unless list_separator
// in network.ini says so; 0 if not.
char guess_separator(const Sample *sample, const GPtrArray *guesses);

const char *guess_word(GuessTrust trust); // "certain", ..., "" for none

#endif
