// SPDX-License-Identifier: GPL-3.0-or-later
// Persons' names in text of any kind, where nothing says what the text is.
#ifndef CROSSWARD_INTAKE_NAMES_H
#define CROSSWARD_INTAKE_NAMES_H

#include <glib.h>
#include <stdbool.h>

// Whether the text (length bytes, UTF-8) may hold a person's name: beside each other two words with
// a capital, or a capital initial and such a word, of which one is not in `known` (words in lower
// case); or such a word behind one that a person's name follows ("by", "patient", "name"). A name
// that stands alone, or is written without capitals, can't be told from other words.
bool names_found(const char *text, size_t length, GHashTable *known);

#endif
