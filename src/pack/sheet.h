// SPDX-License-Identifier: GPL-3.0-or-later
// A table of the report, independent of where it is written: HTML, Markdown, workbook.
#ifndef CROSSWARD_PACK_SHEET_H
#define CROSSWARD_PACK_SHEET_H

#include "pack/words.h"

typedef enum { SHEET_TEXT, SHEET_NUMBER, SHEET_INTERVAL } SheetKind;

typedef struct {
    char *title;
    SheetKind kind;
    WordsUnit unit; // of numbers and intervals
} SheetColumn;

typedef struct {
    char *text; // of a text column
    double value, lower, upper;
} SheetCell;

typedef struct {
    char *caption;
    GArray *columns; // of SheetColumn
    GArray *cells;   // of SheetCell, row after row
} Sheet;

// An empty table; then its columns, then its cells row by row. Free with sheet_free.
Sheet *sheet_new(const char *caption);
void sheet_free(Sheet *s);
void sheet_column(Sheet *s, const char *title, SheetKind kind, WordsUnit unit);
void sheet_text(Sheet *s, const char *text);
void sheet_number(Sheet *s, double value); // NaN prints as "not known"
void sheet_interval(Sheet *s, double estimate, double lower, double upper);

guint sheet_rows(const Sheet *s);

// Characters that the longest texts of all columns have together, of heads the longest word.
guint sheet_width(const Sheet *s);

// Appends text for one line of Markdown: no line breaks and no markup of its own.
void sheet_markdown_text(GString *out, const char *text);

// The table as HTML: caption, column heads, the first column as row heads, in a region that
// scrolls sideways by keyboard where it is too wide; and as Markdown.
void sheet_html(GString *out, const Sheet *s);
void sheet_markdown(GString *out, const Sheet *s);

#endif
