// SPDX-License-Identifier: GPL-3.0-or-later
// A mapping: which column of a foreign log feeds which fields, and which of its values mean what.
// Only read once made, so threads share it.
#ifndef CROSSWARD_INTAKE_MAPPING_H
#define CROSSWARD_INTAKE_MAPPING_H

#include "record/field.h"

#include <glib.h>

// The field `harm`: the degree for those of a record's events that have none.
#define MAPPING_HARM FIELD_STORED

typedef enum {
    MAPPING_WHOLE,
    MAPPING_DATE, // the column holds a time's date alone
    MAPPING_CLOCK // its clock alone
} MappingPart;

// What a text means on some days.
typedef struct {
    char *value;         // as a canonical log would write it; "" = unknown
    int32_t from, until; // days of the record, both included; INT32_MIN, INT32_MAX = open
    guint line;          // in the mapping
} MappingRow;

// One field that a column feeds.
typedef struct {
    FieldId field; // a stored field, or MAPPING_HARM
    MappingPart part;
    GHashTable *rows;  // exact text -> GPtrArray of MappingRow
    GHashTable *alike; // the same by text without case, space, underscore and hyphen alike
    GPtrArray *cell;   // rows that rename: the cell itself; never NULL
    GPtrArray *blank;  // rows for an empty cell; never NULL
    GPtrArray *other;  // rows for what no other row names; never NULL
    bool dated;        // some row holds on some days only
} MappingFeed;

typedef struct {
    char *name;       // heading in the log
    bool ignored;     // known, and its cells are never read
    GPtrArray *feeds; // of MappingFeed
    guint line;       // that names it first
} MappingColumn;

typedef struct {
    GPtrArray *columns; // of MappingColumn, in the order of the mapping
    GHashTable *exact;  // name -> column
    GHashTable *alike;  // the same by name without case, space, underscore and hyphen alike
} Mapping;

// Reads the mapping file at path. NULL and an error that names file, line and word
// (READER_ERROR_SETTING), or READER_ERROR_INPUT if the file is there and can't be read. Free with
// mapping_free.
Mapping *mapping_read(const char *path, GError **error);

// The same from text in memory; name stands in messages.
Mapping *mapping_parse(const char *name, const char *text, gsize length, GError **error);
void mapping_free(Mapping *mapping);

// What the mapping says of a column with that heading (as lenient as mapping_find), NULL if
// nothing. An empty heading is named `(blank)`.
const MappingColumn *mapping_column(const Mapping *mapping, const char *heading);

// The rows that name a cell's text: those of the text itself, else of a text that is alike but for
// case, surrounding space, what nobody sees, and space, underscore and hyphen; of `(blank)` for an
// empty cell; else those of `(any other)`, then *other is true. Empty if none does. Belongs to the
// feed.
const GPtrArray *mapping_find(const MappingFeed *feed, const char *text, size_t length,
                              bool *other);

// Whether a row holds on that day.
bool mapping_holds(const MappingRow *row, int32_t day);
bool mapping_any_holds(const GPtrArray *rows, int32_t day); // of several

#endif
