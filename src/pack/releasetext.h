// SPDX-License-Identifier: GPL-3.0-or-later
// What a release says of what it hides.
#ifndef CROSSWARD_PACK_RELEASETEXT_H
#define CROSSWARD_PACK_RELEASETEXT_H

#include "disclosure/hiding.h"

// One line for the head of a page; what "hidden" means in a table; how many of a table's numbers
// are hidden, and why. Free them.
char *releasetext_banner(const Hiding *hiding);
char *releasetext_mark(const Hiding *hiding);
char *releasetext_note(const Hiding *hiding, guint hidden, guint all);

// Appends how figures are hidden and what that does not guard against: a heading and a list, as
// HTML, as Markdown.
void releasetext_html(GString *out, const Hiding *hiding);
void releasetext_markdown(GString *out, const Hiding *hiding);

#endif
