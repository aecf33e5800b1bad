// SPDX-License-Identifier: GPL-3.0-or-later
// Running gnuplot over all charts of a pack, and rsvg-convert for other formats.
#ifndef CROSSWARD_PACK_GNUPLOT_H
#define CROSSWARD_PACK_GNUPLOT_H

#include "pack/chart.h"

typedef enum {
    GNUPLOT_ERROR_MISSING, // a program is not installed; the message says how to install it
    GNUPLOT_ERROR_FAILED   // it failed, or took too long
} GnuplotError;
#define GNUPLOT_ERROR gnuplot_error_quark()
GQuark gnuplot_error_quark(void);

typedef struct {
    bool png, pdf;
} GnuplotFormats;

// Reads a list as --chart-formats gives it (NULL: svg alone); false with an error that names the
// word.
bool gnuplot_formats(const char *text, GnuplotFormats *formats, GError **error);

// Whether all programs that these formats need are there; otherwise GNUPLOT_ERROR_MISSING.
bool gnuplot_find(const GnuplotFormats *formats, GError **error);

// Begins to draw charts (GPtrArray of Chart *, names unlike each other) with the existing folder
// as working place; the pictures are read as they come. gnuplot gets an argument vector, a minimal
// environment and a time limit, and may start no program and open no socket; as many
// processes as there are processors, four at most, share the work where there is much of it. Same
// charts, same bytes. The charts are not to be changed before gnuplot_end, nor may the thread that
// began end before.
typedef struct GnuplotDrawing GnuplotDrawing;
GnuplotDrawing *gnuplot_begin(GPtrArray *charts, const char *folder, GError **error);

// Waits until all is drawn and each chart's svg is filled; frees the drawing. tick, if any, is told
// now and then how many are done.
typedef void (*GnuplotTick)(void *user, guint done, guint total);
bool gnuplot_end(GnuplotDrawing *drawing, GnuplotTick tick, void *user, GError **error);

// Both, for those who have nothing to do meanwhile.
bool gnuplot_draw(GPtrArray *charts, const char *folder, GError **error);

// The chart's SVG as PNG (at twice its size) or PDF, by rsvg-convert, in a folder as above;
// different charts may be done side by side. NULL with an error on failure; free the result.
char *gnuplot_convert(const Chart *chart, bool pdf, const char *folder, gsize *length,
                      GError **error);

#endif
