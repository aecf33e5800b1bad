// SPDX-License-Identifier: GPL-3.0-or-later
// gnuplot's SVG made fit for the pack: a real title and description, fonts that every machine has.
#ifndef CROSSWARD_PACK_SVG_H
#define CROSSWARD_PACK_SVG_H

#include <glib.h>

// The picture `text` (length bytes, as gnuplot wrote it) with title and description for those who
// do not see it, role="img", a stack of fonts, and without the names that gnuplot gives to each
// plot and the groups in which nothing is. NULL with an error if it is no well-formed XML, as when
// a piece is lacking. Free the result.
char *svg_finish(const char *text, gsize length, const char *title, const char *description,
                 GError **error);

#endif
