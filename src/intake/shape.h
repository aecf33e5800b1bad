// SPDX-License-Identifier: GPL-3.0-or-later
// The shape of a log: how its cells are parted and where its heading stands.
#ifndef CROSSWARD_INTAKE_SHAPE_H
#define CROSSWARD_INTAKE_SHAPE_H

#include "intake/logsettings.h"

typedef struct {
    char delimiter;
    GPtrArray *heads;     // char *, cells of the heading; owned
    uint32_t heading_row; // physical line that the heading starts on
    uint32_t lines;       // lines up to the heading's end
    size_t bytes;         // bytes up to the heading's end
} Shape;

// Finds the shape of a log from how it begins: `length` bytes of UTF-8 text, the whole log if
// `whole`. NULL and an error (READER_ERROR_REFUSED, without the file, *line set) if it has none.
// Free with shape_free.
Shape *shape_find(const char *text, size_t length, bool whole, const LogSettings *settings,
                  uint32_t *line, GError **error);
void shape_free(Shape *shape);

#endif
