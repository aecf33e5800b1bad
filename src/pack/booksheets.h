// SPDX-License-Identifier: GPL-3.0-or-later
// The estimates in a workbook's sheets: for each theme one of its figures, a row each, and one of
// its durations, whose four quantiles share a row.
#ifndef CROSSWARD_PACK_BOOKSHEETS_H
#define CROSSWARD_PACK_BOOKSHEETS_H

#include "pack/bookframe.h"

// Adds them. most: rows of a sheet, its head apart; what is more goes on in a further sheet.
void booksheets_add(Bookframe *f, const Source *s, guint most);

#endif
