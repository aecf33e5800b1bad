// SPDX-License-Identifier: GPL-3.0-or-later
// Names of the files of units' pages.
#ifndef CROSSWARD_PACK_SLUGS_H
#define CROSSWARD_PACK_SLUGS_H

#include "pack/source.h"

// File names without ending for the sending units, in the order of the estimates' units from 1 on:
// letters a to z, digits and hyphens, at most 40, no two equal, none that a system reserves.
// GPtrArray of char *, free with g_ptr_array_unref.
GPtrArray *slugs_of(const Source *s);

#endif
