// SPDX-License-Identifier: GPL-3.0-or-later
// summary.xlsx: every estimate as a workbook, a sheet a theme.
#ifndef CROSSWARD_PACK_WORKBOOK_H
#define CROSSWARD_PACK_WORKBOOK_H

#include "pack/source.h"

typedef struct Workbook Workbook;

// Begins it: the sheets that are drawn from the source's estimates and network alone, which are
// borrowed, in the folder (an existing one, for files on the way). Numbers are typed and rounded as
// summary.csv's are, texts are never formulas; the same estimates and signals give the same bytes.
Workbook *workbook_begin(const Source *s, const char *folder);

// Adds the signals, of which a release has none (NULL), and ends it: the whole file's bytes, to be
// freed; NULL with an error on failure. The workbook is freed.
char *workbook_end(Workbook *book, const Signals *signals, gsize *length, GError **error);

#endif
