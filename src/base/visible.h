// SPDX-License-Identifier: GPL-3.0-or-later
// Foreign text among ours: characters that nobody sees, and scripts that run from right to left.
#ifndef CROSSWARD_BASE_VISIBLE_H
#define CROSSWARD_BASE_VISIBLE_H

#include <glib.h>
#include <stdbool.h>

// Whether a character turns the direction of what stands beside it (Unicode Standard Annex 9, UAX
// 9, table 4: marks, embeddings, overrides and the isolates of a fixed direction). Foreign text may
// hold none; the first-strong isolate and its end, which we write ourselves, are not among them.
bool visible_turns(gunichar c);

// The text (UTF-8, length bytes or -1) without characters that are never seen (Unicode's
// Default_Ignorable_Code_Point), its blanks plain ones (a no-break space looks like one) and none
// at its ends; NULL where all is plain as it is, or the text is no UTF-8. The joiners U+200C and
// U+200D stay between letters beyond ASCII: Persian and Indian scripts are spelled with them. Free
// the result.
char *visible_only(const char *text, gssize length);

// The same, or a copy of the text where that is NULL. Free the result.
char *visible_copy(const char *text, gssize length);

// Whether nothing is to be seen in the text: blanks, and characters that are never seen.
bool visible_nothing(const char *text, gsize length);

// The text as it may stand among words of ours: one with letters that run from right to left
// between the first-strong isolate U+2068 and U+2069, so that it turns nothing around it (UAX
// 9, 2.4); any other as it is. Belongs to the caller's text, or lasts as long as the program.
const char *visible_isolated(const char *text);

#endif
