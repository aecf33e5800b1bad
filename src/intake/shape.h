// SPDX-License-Identifier: GPL-3.0-or-later
// The shape of a log: what parts its cells, where its heading stands, how its decimals look. What
// network.ini does not say is found where the log leaves no doubt; else the log is refused.
#ifndef CROSSWARD_INTAKE_SHAPE_H
#define CROSSWARD_INTAKE_SHAPE_H

#include "intake/logsettings.h"

typedef struct {
    char delimiter;
    GPtrArray *heads;     // char *, cells of the heading; owned
    uint32_t heading_row; // physical line that the heading starts on
    uint32_t lines;       // lines up to the heading's end
    size_t bytes;         // bytes up to the heading's end
    uint32_t notes;       // records above the heading
} Shape;

// Bytes at a log's beginning in which its heading stands; where no line ends in them, it is no CSV.
enum { SHAPE_BYTES = 64 << 10 };

// Whether a heading's cell is the name of something: a field, or a column of the log's mapping.
typedef bool (*ShapeKnows)(const char *name, void *data);

// Finds the shape of a log from how it begins: `length` bytes of UTF-8 text, the whole log if
// `whole`. The heading is the row with the most known names; without any, the first row as wide as
// most. NULL and an error (READER_ERROR_REFUSED, without the file; *line is the line that it is
// about) if there is doubt. Free with shape_free.
Shape *shape_find(const char *text, size_t length, bool whole, const LogSettings *settings,
                  ShapeKnows knows, void *data, uint32_t *line, GError **error);
void shape_free(Shape *shape);

// The decimal sign of a log: of the columns marked in is_number (one for each head), in the records
// after the heading in the same text. '.' where nothing says otherwise. 0 and an error as above if
// it is in doubt.
char shape_decimal(const Shape *shape, const char *text, size_t length, const bool *is_number,
                   uint32_t *line, GError **error);

#endif
