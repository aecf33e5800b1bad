// SPDX-License-Identifier: GPL-3.0-or-later
// The themes of a report: question and answer of each.
#ifndef CROSSWARD_PACK_THEME_H
#define CROSSWARD_PACK_THEME_H

#include "pack/exhibit.h"

// Anchor, heading and question of a theme; literals.
const char *theme_anchor(Theme theme);
const char *theme_heading(Theme theme);
const char *theme_question(Theme theme);

// Theme that an indicator belongs to; THEME_QUALITY for those that a network added itself. Name of
// its sheet in a workbook, a literal of at most 31 characters.
Theme theme_of(const char *indicator);
const char *theme_sheet_name(Theme theme);

// The answer in a sentence or two, from the estimates; never empty. Free it.
char *theme_answer(const Source *s, Theme theme);

#endif
