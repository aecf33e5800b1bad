// SPDX-License-Identifier: GPL-3.0-or-later
// Texts that are good for a workbook's cell.
#ifndef CROSSWARD_PACK_BOOKTEXT_H
#define CROSSWARD_PACK_BOOKTEXT_H

#include <glib.h>

// The text, if it is good as it is; else a copy, which *made then is too, to be freed: valid UTF-8
// without what XML forbids (control characters become blanks, but for line feeds and tabs), and not
// longer than a cell may be. *made is NULL if there is no copy.
const char *booktext_good(const char *text, char **made);

#endif
