// SPDX-License-Identifier: GPL-3.0-or-later
// An exhibit in a page: chart as an image inside the page, caption, numbers as a table.
#ifndef CROSSWARD_PACK_FIGURE_H
#define CROSSWARD_PACK_FIGURE_H

#include "pack/exhibit.h"

// Appends the exhibit as HTML; its anchor is its name.
void figure_html(GString *out, const Exhibit *exhibit);

#endif
