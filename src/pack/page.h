// SPDX-License-Identifier: GPL-3.0-or-later
// What every HTML page of a pack has in common: head, banner, footer.
#ifndef CROSSWARD_PACK_PAGE_H
#define CROSSWARD_PACK_PAGE_H

#include "pack/source.h"

// Begins a page: document head with style and a policy that allows no script, the banner, <h1>
// with heading and the line under it (NULL for none). The caller writes <nav> and <main>.
GString *page_begin(const Source *s, const char *title, const char *heading, const char *line);

// Footer and end.
void page_end(GString *out, const Source *s);

// Which logs were refused and gone on without, for the head of a page; NULL if none. Free it.
char *page_refused(const Source *s);

// The audited span in words: "January 2030 to December 2031". Free it.
char *page_span(const Source *s);

// The network's name, or "A network" if it has none. Belongs to the network or is a literal.
const char *page_network(const Source *s);

// Appends a contents entry, and a section's opening tag with its heading.
void page_entry(GString *out, const char *anchor, const char *text);
void page_section(GString *out, const char *anchor, const char *heading);

#endif
