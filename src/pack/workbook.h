// SPDX-License-Identifier: GPL-3.0-or-later
// summary.xlsx: every estimate as a workbook, a sheet a theme.
#ifndef CROSSWARD_PACK_WORKBOOK_H
#define CROSSWARD_PACK_WORKBOOK_H

#include "pack/source.h"

// The whole file's bytes, drawn from the source's estimates and network alone and made in the
// folder (an existing one, for files on the way). Numbers are typed, texts are never formulas; the
// same estimates give the same bytes. NULL with an error on failure; free the result.
char *workbook_summary(const Source *s, const char *folder, gsize *length, GError **error);

#endif
