// SPDX-License-Identifier: GPL-3.0-or-later
// Whether a workbook is whole: libxlsxwriter does not say when a write to one of its files on the
// way failed, so what came of them is read back.
#ifndef CROSSWARD_PACK_BOOKCHECK_H
#define CROSSWARD_PACK_BOOKCHECK_H

#include <glib.h>
#include <stdbool.h>

// What was put into the sheets: how many cells, and how many bytes of text in those of text.
typedef struct {
    gsize cells, text;
} BookcheckSum;

// Whether every part of the workbook at path is there from its first byte to its last, and its
// sheets together hold as much as was put into them. False with an error if not, or if it can't be
// read. The result does not depend on the threads, which share out the parts.
bool bookcheck_whole(const char *path, const BookcheckSum *put, int threads, GError **error);

#endif
