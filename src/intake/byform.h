// SPDX-License-Identifier: GPL-3.0-or-later
// Columns of a foreign log whose headings say nothing: what their cells and their place tell.
#ifndef CROSSWARD_INTAKE_BYFORM_H
#define CROSSWARD_INTAKE_BYFORM_H

#include "intake/form.h"
#include "intake/guard.h"
#include "intake/guess.h"

enum { GUESS_MOST_VALUES = 60 };

// A column of the sample, and what it is taken for.
typedef struct {
    const SampleColumn *source;
    size_t n;          // cells that are not blank
    GPtrArray *values; // char *, different cells, borrowed; at most GUESS_MOST_VALUES + 1
    Form form;
    GuardKind guard;
    char separator; // of a list of events, as the settings say; 0: they don't
    FieldId field;  // FIELD_COUNT = not found
    bool event;     // a wide yes/no column of one event category
    uint8_t category;
    bool harm;               // grades the record's events
    double name, fit, rival; // of the field; name score of the next best
    GuessTrust trust;
    char *evidence; // NULL: told by name and fit; owned
} GuessColumn;

typedef struct {
    GuessColumn *columns;
    unsigned n;
    GHashTable *words; // vocabulary_words
} GuessColumns;

// Gives columns without a field one, all as GUESS_GUESS with their evidence: two columns of the
// same few texts are the sending and the receiving unit; stamps are phases, by their order among
// those that are known; the first column of texts or numbers that never repeat is the pseudonym.
void byform_assign(GuessColumns *g);

#endif
