// SPDX-License-Identifier: GPL-3.0-or-later
// A heat table on its way to a chart: names of rows and columns, a value and a text in each cell.
#ifndef CROSSWARD_PACK_HEAT_H
#define CROSSWARD_PACK_HEAT_H

#include "pack/chart.h"

typedef struct {
    double value; // 0..1: how dark; NaN: no cell
    char *text;   // NULL for none; owned
} HeatCell;

typedef struct {
    guint rows, columns;
    char **row_names, **column_names; // owned
    HeatCell *cells;                  // row after row, the first row on top
    int width, left;                  // px of the chart, and for the names of rows (from those)
    int row_height;                   // px
    int text_size;                    // px
} Heat;

// A table without texts, as wide as its columns need.
Heat *heat_new(guint rows, guint columns);
void heat_free(Heat *heat);

// Sets a cell; text is taken over.
void heat_set(Heat *heat, guint row, guint column, double value, char *text);

// Draws it; texts that do not fit into their cells are dropped. Free with chart_free.
Chart *heat_chart(Heat *heat, const char *title, const char *subtitle);

#endif
