// SPDX-License-Identifier: GPL-3.0-or-later
// One chart on its way to gnuplot: texts and scales as a head of `set` lines, numbers as columns,
// and the kind's script from plots/ that draws them.
#ifndef CROSSWARD_PACK_CHART_H
#define CROSSWARD_PACK_CHART_H

#include <glib.h>
#include <stdbool.h>

// Widths in px, such that texts of 12 px are 7 pt or more on A4: beside its caption, in half a
// unit's page, across the page.
#define CHART_WIDTH 560
#define CHART_NARROW 430
#define CHART_WIDE 860
#define CHART_EDGE 4 // px kept free left and right of texts

typedef struct {
    char *name;             // file name without ending: letters, digits, hyphens; ours
    const char *script;     // kind's script in plots/, a literal such as "trend.gp"
    char *title, *subtitle; // the finding or the measure; how to read the chart
    char *finding;          // one or two sentences for a reader who can't see it
    int width, height;      // px
    int titles;             // px from the upper edge to the end of title and subtitle
    int left, right, top;   // px from the edges to the plotting area
    int tall;               // px of that area
    int text_size;          // px of ordinary texts
    GString *head, *data;
    unsigned labels; // made so far
    bool told; // each figure stands in the picture too or in a file of the pack: on paper a long
               // table stays away
    char *svg; // once drawn
    gsize svg_length;
} Chart;

// Width of the picture, distances in px from each edge to the plotting area, top counted below the
// titles, and the height of that area.
typedef struct {
    int width, left, right, top, bottom, height;
} ChartFrame;

// A chart, its title and subtitle wrapped to its width and put above the frame. Free with
// chart_free.
Chart *chart_new(const char *script, const char *title, const char *subtitle,
                 const ChartFrame *frame);
// A chart of that size without titles, its plotting area the whole picture.
Chart *chart_bare(const char *script, int width, int height);
void chart_free(Chart *chart);

// Range of axis 'x' or 'y'.
void chart_range(Chart *chart, char axis, double from, double to);

// Puts texts at values of an axis; n may be 0.
void chart_tics(Chart *chart, char axis, guint n, const double *at, const char *const *text);

// Round steps from 0 (or below) to `to`, at most `most` of them, as tics written with scale and
// unit: value * scale and the unit behind it. Light rules lie along them. Returns the last tic.
double chart_steps(Chart *chart, char axis, double to, int most, double scale, const char *unit);

// Light rules along the tics of an axis.
void chart_rules(Chart *chart, char axis);

// Names of what stands at 0, 1 ... n - 1 of the x axis: the last, and of the others as many as have
// room.
void chart_periods(Chart *chart, guint n, const char *const *names);

// Range and tics of a logarithmic x axis, those left out whose names would touch another's.
void chart_doubling(Chart *chart, double from, double to, guint n, const double *at,
                    const char *const *text);

// Steps of that x axis that have room for their names, as chart_steps takes them.
int chart_room(const Chart *chart);

// A name of the x axis, under its middle.
void chart_axis_name(Chart *chart, const char *text);

// No rules along an axis after all.
void chart_plain_axis(Chart *chart, char axis);

// A text at (x, y). Coordinates: each a number in the axes' units, or in px from the picture's left
// and top edges where the matching flag is set.
typedef struct {
    double x, y;
    bool x_px, y_px;
    const char *align;  // "left", "center", "right"
    const char *colour; // a name of plots/names.gp: "ink", "grey", "blue", "vermillion", ...
    int size;           // px, 0 = that of ordinary texts
    bool bold;
    double dx;  // px to the right, added
    int rotate; // degrees, counter-clockwise
} ChartPlace;
void chart_label(Chart *chart, const ChartPlace *place, const char *text);

// A dashed dark line across the plotting area at a value of an axis: the network's value.
void chart_reference(Chart *chart, char axis, double at);

// A thin grey line between two points in px from the picture's left and top edges.
void chart_leader(Chart *chart, double x0, double y0, double x1, double y1);

// Sets a text that the kind's script reads.
void chart_set_text(Chart *chart, const char *variable, const char *text);

// Sets a number that the kind's script reads.
void chart_set(Chart *chart, const char *variable, double value);

// What a mark's column holds: the value where the mark is drawn, NaN elsewhere.
double chart_where(bool drawn, double value);

// Appends one row of n numbers to the data; what is not finite is written as NaN. n = 0 ends a
// block of rows (`index` of gnuplot).
void chart_row(Chart *chart, unsigned n, const double *values);

// Whole text of the chart's script: what redraws it as NAME.svg from NAME.dat.
char *chart_script(const Chart *chart);

// Appends to the script of a process that draws one chart after another: what comes before the
// first (it draws a picture of its own, to be thrown away), and a chart with its data, whose
// picture goes to standard output.
void chart_stream_begin(GString *out);
void chart_stream(GString *out, const Chart *chart);

// Appends text as one double-quoted gnuplot string: control characters and what is not UTF-8
// become a replacement character; backslash, double quote and backtick are escaped.
void chart_quote(GString *out, const char *text);

// Rough width of a text in px, and the text cut with an ellipsis to at most that width (free it).
double chart_text_width(const char *text, int size);
char *chart_fit(const char *text, int size, double width);

#endif
