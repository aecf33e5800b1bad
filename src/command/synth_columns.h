// SPDX-License-Identifier: GPL-3.0-or-later
// The columns of each house style.
#ifndef CROSSWARD_COMMAND_SYNTH_COLUMNS_H
#define CROSSWARD_COMMAND_SYNTH_COLUMNS_H

#include "command/synth_style.h"

typedef enum {
    SYNTH_CELL, // the field's value
    SYNTH_DATE, // of a time: its date, its clock
    SYNTH_CLOCK,
    SYNTH_JOURNEY,  // date of the first known stamp from the departure on
    SYNTH_EVENT,    // ticked if there was one of the category in `words`
    SYNTH_HARM,     // that of all the record's events
    SYNTH_NO_EVENT, // ticked if there was none
    SYNTH_YEARS,    // age
    SYNTH_REMARK    // free text that nobody reads
} SynthPart;

typedef struct {
    const char *head;
    FieldId field;
    SynthPart part;
    const char *words; // code=word|code=word of this house; NULL: the codes
} SynthColumn;

// By style; each ends with a column without a heading.
extern const SynthColumn *const synth_columns[SYNTH_STYLES];

#endif
