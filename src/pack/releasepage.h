// SPDX-License-Identifier: GPL-3.0-or-later
// The page of a release, and the same as Markdown.
#ifndef CROSSWARD_PACK_RELEASEPAGE_H
#define CROSSWARD_PACK_RELEASEPAGE_H

#include "pack/source.h"

// Whole texts, from a source as release_write has it, with its hiding. Free with g_string_free.
GString *releasepage_html(const Source *s);
GString *releasepage_markdown(const Source *s);

#endif
