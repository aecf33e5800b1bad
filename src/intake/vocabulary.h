// SPDX-License-Identifier: GPL-3.0-or-later
// Words that logs use for our fields and codes (vocabulary.def), and how well a text fits them.
#ifndef CROSSWARD_INTAKE_VOCABULARY_H
#define CROSSWARD_INTAKE_VOCABULARY_H

#include "record/field.h"

#include <glib.h>

// Lower case, letters and digits alone, one blank between words and at both ends. Free with g_free.
char *vocabulary_plain(const char *text, size_t length);

// How well a heading names each field: 1 if it is its name or a word for it, 0.95 if it is once
// words that say nothing are dropped ("time of ..."), less if it only holds one; 0 = not.
void vocabulary_headings(const char *heading, double fit[FIELD_STORED]);

// Whether a heading is a word for any field.
bool vocabulary_knows(const char *heading);

// The code 1..n of a list that a cell means, 0 = none or more than one. *fit: 1 a code or a word
// for it, 0.7 if the cell only holds one.
uint8_t vocabulary_value(const CodeList *list, const char *cell, double *fit);

// Every single word of the above and of the codes themselves, lower case: a set. Free with
// g_hash_table_unref.
GHashTable *vocabulary_words(void);

// Adds the words of a text to such a set.
void vocabulary_add_words(GHashTable *set, const char *text);

// All codes of a list, for a person who is to choose: "yes, no". Free the result.
char *vocabulary_codes(const CodeList *list);

#endif
