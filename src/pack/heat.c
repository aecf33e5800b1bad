// SPDX-License-Identifier: GPL-3.0-or-later
// Cells are bars of stack.gp; one hue from pale to dark, so that grey print keeps the order.
#include "pack/heat.h"

#include <math.h>
#include <string.h>

enum { RIGHT = 10, TOP = 24, SECOND = 14, BOTTOM = 8 }; // px
enum { MOST_NARROW = 16 };                              // columns of a chart of the ordinary width

Heat *heat_new(guint rows, guint columns) {
    Heat *h = g_new(Heat, 1);
    *h = (Heat){.rows = rows,
                .columns = columns,
                .row_names = g_new0(char *, rows + 1),
                .column_names = g_new0(char *, columns + 1),
                .cells = g_new0(HeatCell, (gsize)rows * columns + 1),
                .width = columns > MOST_NARROW ? CHART_WIDE : CHART_WIDTH,
                .row_height = 20,
                .text_size = 12};
    return h;
}

void heat_free(Heat *h) {
    g_strfreev(h->row_names);
    g_strfreev(h->column_names);
    for (gsize i = 0; i < (gsize)h->rows * h->columns; i++)
        g_free(h->cells[i].text);
    g_free(h->cells);
    g_free(h);
}

void heat_set(Heat *h, guint row, guint column, double value, char *text) {
    h->cells[(gsize)row * h->columns + column] = (HeatCell){value, text};
}

// From pale over sky to dark blue, as 0xRRGGBB.
static unsigned colour(double value) {
    static const double stops[3][3] = {{237, 242, 247}, {120, 178, 220}, {11, 79, 125}};
    const double at = 2 * fmin(fmax(value, 0), 1);
    const int from = at < 1 ? 0 : 1;
    unsigned rgb = 0;
    for (int k = 0; k < 3; k++)
        rgb = rgb << 8 | (unsigned)lround(stops[from][k] +
                                          (at - from) * (stops[from + 1][k] - stops[from][k]));
    return rgb;
}

static double linear(unsigned byte) {
    const double v = byte / 255.0;
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

// Whether white stands out better than ink on a fill (WCAG 2.2, relative luminance).
static bool wants_white(unsigned rgb) {
    const double l =
        0.2126 * linear(rgb >> 16) + 0.7152 * linear(rgb >> 8 & 255) + 0.0722 * linear(rgb & 255);
    return 1.05 / (l + 0.05) > (l + 0.05) / 0.063;
}

static double px_of(const Heat *h, double column) {
    return h->left + column * (h->width - h->left - RIGHT) / h->columns;
}

static int left_of(const Heat *h) {
    double widest = 50;
    for (guint r = 0; r < h->rows; r++)
        widest = fmax(widest, chart_text_width(h->row_names[r], h->text_size));
    return 18 + (int)ceil(fmin(widest, 190));
}

static void label(Chart *c, const Heat *h, ChartPlace place, const char *text, double width) {
    place.size = h->text_size;
    char *cut = chart_fit(text, h->text_size, width);
    chart_label(c, &place, cut);
    g_free(cut);
}

// Width of a column's name: it may reach over columns without one.
static double room_of(const Heat *h, guint k) {
    guint room = 1;
    while (k + room < h->columns && !*h->column_names[k + room])
        room++;
    return room * (px_of(h, 1) - px_of(h, 0)) - 2;
}

// Where a column's name that has no room in one line is broken; NULL where it is not.
static const char *broken(const Heat *h, guint k) {
    const char *name = h->column_names[k];
    return chart_text_width(name, h->text_size) > room_of(h, k) ? strrchr(name, ' ') : NULL;
}

static bool any_in_two_lines(const Heat *h) {
    bool any = false;
    for (guint k = 0; k < h->columns; k++)
        any = any || broken(h, k);
    return any;
}

static void column_name(Chart *c, const Heat *h, guint k) {
    ChartPlace place = {.x = px_of(h, k + 0.5),
                        .x_px = true,
                        .y = c->top - 10,
                        .y_px = true,
                        .align = "center",
                        .colour = "grey"};
    const char *name = h->column_names[k], *blank = broken(h, k);
    const double width = room_of(h, k);
    if (blank) {
        char *first = g_strndup(name, (gsize)(blank - name));
        place.y -= h->text_size + 2;
        label(c, h, place, first, width);
        place.y = c->top - 10;
        g_free(first);
    }
    label(c, h, place, blank ? blank + 1 : name, width);
}

static void add_names(Chart *c, const Heat *h) {
    for (guint k = 0; k < h->columns; k++)
        column_name(c, h, k);
    for (guint r = 0; r < h->rows; r++) {
        const ChartPlace place = {
            .x = h->left - 10, .x_px = true, .y = h->rows - r, .align = "right", .colour = "ink"};
        label(c, h, place, h->row_names[r], h->left - 16);
    }
}

static void add_cell(Chart *c, const Heat *h, guint r, guint k) {
    const HeatCell *cell = &h->cells[(gsize)r * h->columns + k];
    if (isnan(cell->value))
        return;
    const double y = h->rows - r, row[] = {k, k + 1.0, y - 0.5, y + 0.5, colour(cell->value)};
    chart_row(c, 5, row);
    if (!cell->text)
        return;
    const ChartPlace place = {.x = px_of(h, k + 0.5),
                              .x_px = true,
                              .y = h->rows - r,
                              .align = "center",
                              .colour = wants_white(colour(cell->value)) ? "paper" : "ink"};
    label(c, h, place, cell->text, 200);
}

// Texts that do not all fit into their cells are left to the table.
static void fit_texts(Heat *h) {
    const double wide = px_of(h, 1) - px_of(h, 0);
    bool fits = true;
    for (gsize i = 0; i < (gsize)h->rows * h->columns; i++)
        fits = fits &&
               (!h->cells[i].text || chart_text_width(h->cells[i].text, h->text_size) <= wide + 2);
    for (gsize i = 0; !fits && i < (gsize)h->rows * h->columns; i++)
        g_clear_pointer(&h->cells[i].text, g_free);
}

Chart *heat_chart(Heat *h, const char *title, const char *subtitle) {
    h->left = left_of(h);
    fit_texts(h);
    const ChartFrame frame = {h->width, h->left,
                              RIGHT,    TOP + (any_in_two_lines(h) ? SECOND : 0),
                              BOTTOM,   (int)h->rows * h->row_height};
    Chart *c = chart_new("stack.gp", title, subtitle, &frame);
    chart_range(c, 'x', 0, h->columns);
    chart_range(c, 'y', 0.5, h->rows + 0.5);
    chart_tics(c, 'x', 0, NULL, NULL);
    chart_tics(c, 'y', 0, NULL, NULL);
    add_names(c, h);
    c->told = true;
    for (guint r = 0; r < h->rows; r++)
        for (guint k = 0; k < h->columns; k++) {
            const HeatCell *cell = &h->cells[(gsize)r * h->columns + k];
            c->told = c->told && (!(cell->value > 0) || cell->text);
            add_cell(c, h, r, k);
        }
    return c;
}
