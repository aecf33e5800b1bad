// SPDX-License-Identifier: GPL-3.0-or-later
// What each unit gets back about itself: units/UNIT.html.
#ifndef CROSSWARD_PACK_UNIT_H
#define CROSSWARD_PACK_UNIT_H

#include "pack/report.h"

// The page of the unit in focus; its charts are drawn. Free with g_string_free.
GString *unit_html(const Report *report);

#endif
