// SPDX-License-Identifier: GPL-3.0-or-later
// The parts of a report that are words and plain tables: account, findings, methods, cautions, how
// to reproduce it.
#ifndef CROSSWARD_PACK_PROSE_H
#define CROSSWARD_PACK_PROSE_H

#include "pack/sheet.h"
#include "pack/source.h"

// The account of rows as a table; free with sheet_free.
Sheet *prose_account(const Source *s);

// Appends a section each, as HTML.
void prose_methods(GString *out, const Source *s);
void prose_cautions(GString *out, const Source *s);
void prose_reproduce(GString *out, const Source *s);

// The k-th caution, a literal; NULL: there are no more.
const char *prose_caution(const Source *s, guint k);

// What stands for a number that a release hides.
extern const char *const prose_hidden;

#endif
