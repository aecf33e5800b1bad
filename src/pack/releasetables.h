// SPDX-License-Identifier: GPL-3.0-or-later
// The tables of a release: indicators of the network and of its units, and its mixes.
#ifndef CROSSWARD_PACK_RELEASETABLES_H
#define CROSSWARD_PACK_RELEASETABLES_H

#include "pack/sheet.h"
#include "pack/source.h"
#include "pack/theme.h"

typedef struct {
    Sheet *sheet;
    char *note; // what is hidden in it; NULL: nothing
} ReleaseTable;

// Those of a theme, from the estimates of a source whose hiding is set: GPtrArray of ReleaseTable
// *, empty if no indicator belongs to the theme. Free with g_ptr_array_unref.
GPtrArray *releasetables_of(const Source *s, Theme theme);

// The account of rows; how many rows of the estimates are shown, and why others are not. Free with
// releasetables_free.
ReleaseTable *releasetables_account(const Source *s);
ReleaseTable *releasetables_rows(const Source *s);
void releasetables_free(gpointer table);

#endif
