// SPDX-License-Identifier: GPL-3.0-or-later
// What each unit gets back about itself: units/UNIT.html.
#ifndef CROSSWARD_PACK_UNIT_H
#define CROSSWARD_PACK_UNIT_H

#include "pack/report.h"

// File names without ending for the sending units, in the order of the estimates' units from 1 on:
// letters a to z, digits and hyphens, at most 40, no two equal, none that a system reserves.
// GPtrArray of char *, free with g_ptr_array_unref.
GPtrArray *unit_slugs(const Source *s);

// The page of the unit in focus; its charts are drawn. Free with g_string_free.
GString *unit_html(const Report *report);

// Appends a section with a link to each unit's page.
void unit_links(GString *out, const Source *s);

#endif
