// SPDX-License-Identifier: GPL-3.0-or-later
// A workbook by libxlsxwriter: its formats, its sheets with their heads, and their
// cells.
#ifndef CROSSWARD_PACK_BOOKFRAME_H
#define CROSSWARD_PACK_BOOKFRAME_H

#include "pack/bookcheck.h"
#include "pack/source.h"

#include <xlsxwriter.h>

// How a number is shown.
typedef enum {
    BOOKFRAME_COUNT,
    BOOKFRAME_SHARE,
    BOOKFRAME_MINUTES,
    BOOKFRAME_HOURS,
    BOOKFRAME_RATE,
    BOOKFRAME_RATIO,
    BOOKFRAME_CHANCE,
    BOOKFRAME_FORMATS
} BookFormat;

typedef struct {
    lxw_workbook *book;
    lxw_format *format[BOOKFRAME_FORMATS], *head, *bold, *wrap, *top;
    BookcheckSum put; // into the library's sheets so far
    char *path;
    lxw_workbook *spare; // takes what is written once a sheet could not be made, and is thrown away
    int why;             // then: errno
} Bookframe;

// Of a column: its heading, the note on that, and its width in characters.
typedef struct {
    const char *title, *note;
    double width;
} BookColumn;

// Begins one in the folder (an existing one, for files on the way). notice: NULL, or what its
// properties say of the data. Ends with bookframe_end.
Bookframe *bookframe_begin(const char *folder, const char *notice);

// Ends and frees it: the whole file's bytes, to be freed; NULL with an error on failure. That many
// threads at most read it back.
char *bookframe_end(Bookframe *f, int threads, gsize *length, GError **error);

// A further sheet: A4 across, as wide as the page, its name at the foot. Belongs to the book. If
// its file on the way can't be made, bookframe_end says so.
lxw_worksheet *bookframe_sheet(Bookframe *f, const char *name);

// Lines that a text takes in a cell as wide as so many characters, where it wraps; and the height
// of a row of lines, said after its cells, as not every program finds that out when it opens a
// book.
guint bookframe_lines(const char *text, double width);
void bookframe_height(lxw_worksheet *sheet, lxw_row_t row, guint lines);

// The sheet's first row: the columns' names, each with its note; it stays in sight.
void bookframe_head(Bookframe *f, lxw_worksheet *sheet, const BookColumn *columns, lxw_col_t n);

// Filters on n columns, and what is printed; last: the last row, the head being 0.
void bookframe_filter(lxw_worksheet *sheet, lxw_row_t last, lxw_col_t n);

// A cell of a sheet, row by row. A text is any, never a formula; a number has as many digits
// as summary.csv's, and none is written that is not finite. format may be NULL.
void bookframe_text(Bookframe *f, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column,
                    const char *text, lxw_format *format);
void bookframe_number(Bookframe *f, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column,
                      double value, lxw_format *format);

// How an indicator's figures are shown.
BookFormat bookframe_format(const Indicator *i);

// Name of a unit (0: the network) and of a period ("all": the whole span), as cells have them.
const char *bookframe_unit(const Source *s, uint16_t unit);
const char *bookframe_period(const char *name);

#endif
