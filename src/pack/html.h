// SPDX-License-Identifier: GPL-3.0-or-later
// Escaping for HTML and XML.
#ifndef CROSSWARD_PACK_HTML_H
#define CROSSWARD_PACK_HTML_H

#include <glib.h>

// Appends text escaped for content and attributes (& < > " '); what is not UTF-8, and control
// characters that XML forbids or that turn the direction of text around them, become a replacement
// character.
void html_escape(GString *out, const char *text);

// The same for our own sentences: no line is broken before a per cent sign.
void html_prose(GString *out, const char *text);

// Appends <TAG ATTRIBUTES>text</TAG>\n with the text escaped; attributes are ours, "" for none.
void html_element(GString *out, const char *tag, const char *attributes, const char *text);

// Appends an SVG picture as the address of an image, src="...".
void html_source(GString *out, const char *svg, gsize length);

#endif
