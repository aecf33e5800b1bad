// SPDX-License-Identifier: GPL-3.0-or-later
// Writing rows into SQLite with bound values. The first failure is kept; what follows it does
// nothing.
#ifndef CROSSWARD_PACK_SQLWRITER_H
#define CROSSWARD_PACK_SQLWRITER_H

#include <glib.h>
#include <sqlite3.h>
#include <stdbool.h>

typedef struct {
    sqlite3 *db;
    sqlite3_stmt *insert; // of the table in hand, or NULL
    int column;           // last column bound, from 1
    char *failure;        // message of the first failure, or NULL
} SqlWriter;

// Opens the file at path (there, and empty) for one writer that nobody shares; a failure is kept in
// the writer.
void sqlwriter_open(SqlWriter *w, const char *path);

// Closes; false with an error if anything failed since sqlwriter_open. name stands in the message.
bool sqlwriter_close(SqlWriter *w, const char *name, GError **error);

// Runs statements. Nothing that came from a log may be in them but as a quoted literal.
void sqlwriter_run(SqlWriter *w, const char *sql);

// Begins rows of a table; columns are named as in `a, b, c`.
void sqlwriter_table(SqlWriter *w, const char *table, const char *columns);

// Bind the next column of the row. Texts must stay as they are until the row is added; NULL, and
// NaN or infinity, are written as NULL. A row's columns that are not bound are NULL.
void sqlwriter_text(SqlWriter *w, const char *text);
void sqlwriter_bytes(SqlWriter *w, const char *text, int length);
void sqlwriter_integer(SqlWriter *w, gint64 value);
void sqlwriter_real(SqlWriter *w, double value);
void sqlwriter_null(SqlWriter *w);

// Adds the row.
void sqlwriter_add(SqlWriter *w);

#endif
