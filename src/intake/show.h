// SPDX-License-Identifier: GPL-3.0-or-later
// Which cells may be shown to a person as found.
#ifndef CROSSWARD_INTAKE_SHOW_H
#define CROSSWARD_INTAKE_SHOW_H

#include "record/field.h"

#include <glib.h>

// Whether a value of a coded column may be shown: nothing that may say who a patient is, no date,
// no capitalised words that `words` (vocabulary_words) lacks, which may be a person's name.
bool show_value(const char *text, size_t length, GHashTable *words);

// Whether findings may show a cell (length bytes, without surrounding space) of that field's
// column: coded and number fields by show_value, but no age over 89; times and dates that are no
// birth's.
bool show_found(FieldId field, const char *text, size_t length, GHashTable *words);

// Whether a cell of a row that is not used may be copied, whatever column it may be of: nothing
// that may say who a patient is by guard_may_show, no date in a year before 1990 (it may be a
// birth's), none with a year of two digits beside words, no word for what identifies ("born",
// "surname"), no long number that begins with 0, no postcode, no person's name (names_found).
bool show_copied(const char *text, size_t length, GHashTable *words);

// Whether a text begins with an exact age over 89 (to 120; 90+ is a band).
bool show_old_age(const char *text, size_t length);

#endif
