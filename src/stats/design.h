// SPDX-License-Identifier: GPL-3.0-or-later
// The columns of a regression brought to coordinates in which they are at right angles, so that
// normal equations lose no digits; columns that say nothing new are dropped.
#ifndef CROSSWARD_STATS_DESIGN_H
#define CROSSWARD_STATS_DESIGN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// A matrix, n x columns, finite: row by row in values, or (values NULL) of zeros and ones, where
// ones[i * width ..] names the columns that are 1 in row i, ascending, filled up with `columns`.
typedef struct {
    const double *values;
    const uint16_t *ones;
    size_t n, columns, width;
} DesignRows;

// Row i: in place, or written to room (columns numbers).
const double *design_row_of(const DesignRows *rows, size_t i, double *room);

// X R = Z: X the kept columns of the rows used, R upper triangular, Z'Z = the number of rows used.
typedef struct {
    size_t columns; // of the matrix
    size_t rank;    // columns kept
    size_t *kept;   // their numbers, in the order taken; the dropped ones follow from kept[rank] on
    double *triangle; // R inverted: triangle[i * columns + j], i <= j < rank; then, for each
                      // dropped column j >= rank, what combination of the kept ones it is
} Design;

// Rotates the rows one by one into the triangle (Givens; Golub & Van Loan 2013, Matrix
// Computations, 5.2.5); where rows of zeros and ones leave no doubt that every column says
// something new, the triangle is Cholesky's of X'X. Columns are taken in their order; one whose
// part outside those taken before is below 1e-9 of its length is dropped, as R's glm drops it.
// `last` (columns: none), if kept, is then put last of the kept. used[i]: whether row i counts
// (NULL: all). False if memory runs out, else to be closed with design_close.
bool design_open(Design *design, const DesignRows *rows, const bool *used, size_t last);
void design_close(Design *design);

// Coordinates of a row: rank numbers.
void design_row(const Design *design, const double *row, double *coordinates);

// X'WX of the columns (columns x columns, symmetric) to the same of the coordinates (rank x rank).
// room: columns x (rank + 1) numbers. Loses digits where columns are nearly combinations of others,
// as indicators of levels are not.
void design_cross(const Design *design, const double *cross, double *result, double *room);

// Coefficients of all columns from those of the coordinates; 0 for dropped columns.
void design_coefficients(const Design *design, const double *coordinates, double *coefficients);

// Covariance of the coefficients (columns x columns) from that of the coordinates (rank x rank);
// NaN for dropped columns.
void design_covariance(const Design *design, const double *covariance, double *result);

// The combination of columns that is 0 in every row used and has 1 at the dropped column
// kept[rank + which] and 0 at the other dropped ones: columns numbers.
void design_null(const Design *design, size_t which, double *combination);

#endif
