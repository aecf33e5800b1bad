// SPDX-License-Identifier: GPL-3.0-or-later
// A row as put-aside.csv may copy it: word for word but for what nobody should read.
#ifndef CROSSWARD_INTAKE_MASK_H
#define CROSSWARD_INTAKE_MASK_H

#include <glib.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// How a column's cells may be copied.
typedef enum {
    MASK_SHOWN,  // unless it may say who a patient is (show_copied)
    MASK_UNREAD, // mapped to nothing: "[not read]"
    MASK_AGE,    // as shown, but whole numbers over 89 are masked, too
    MASK_UNIT,   // a unit, which may be called as persons are: unless the guard names the cell
} MaskColumn;

// The row text (n bytes, line end allowed and dropped) with "[masked]" for each cell that may say
// who a patient is and "[not read]" for cells of unread columns. `words` are known not to
// (lower case, a layout's). Where the row is no record, any cell may hold anything; where it
// has not as many cells as the n_columns of the heading, cells that may belong to an unread column
// count as such; where its quotes are broken, any cell may. Free with g_free.
char *mask_row(const char *text, size_t n, char delimiter, const uint8_t *columns,
               unsigned n_columns, GHashTable *words, bool record);

#endif
