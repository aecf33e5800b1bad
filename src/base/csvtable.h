// SPDX-License-Identifier: GPL-3.0-or-later
// Small CSV files with a heading (catalogue, units, mappings), read whole with libcsv, and quoting
// for those we write.
#ifndef CROSSWARD_BASE_CSVTABLE_H
#define CROSSWARD_BASE_CSVTABLE_H

#include <glib.h>
#include <stdbool.h>

typedef struct CsvTable CsvTable;

// Characters of the longest cell: what pages, charts and workbooks have room for.
#define CSVTABLE_LONGEST 4000

// Reads the file at path, cells parted by comma, semicolon or tab, whichever comes first in the
// heading. columns (ended by NULL) lists the allowed headings, none of which holds such a sign; any
// other, one that stands twice, a ragged row, a cell that is too long or a broken quote is an error
// that names file and line. Missing columns read as empty cells; columns and rows with nothing in
// them are passed over. Free with csvtable_free.
CsvTable *csvtable_read(const char *path, const char *const *columns, GError **error);

// The same from text in memory; name stands in messages.
CsvTable *csvtable_parse(const char *name, const char *text, gsize length,
                         const char *const *columns, GError **error);
void csvtable_free(CsvTable *table);

guint csvtable_rows(const CsvTable *table);

// Whether the heading has that column.
bool csvtable_has(const CsvTable *table, const char *column);

// Cell of a row (0-based) by heading; "" if there is no such column. Belongs to the table.
const char *csvtable_cell(const CsvTable *table, guint row, const char *column);

// Physical line on which a row starts, 1-based.
guint csvtable_line(const CsvTable *table, guint row);

// Appends text as one CSV cell, quoted where RFC 4180 asks for it.
void csvtable_append(GString *out, const char *text);

// The same, and the comma before the next cell.
void csvtable_append_cell(GString *out, const char *text);

#endif
