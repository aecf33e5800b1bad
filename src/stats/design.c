// SPDX-License-Identifier: GPL-3.0-or-later
// Triangles by rotations, and what is read off them.
#include "stats/design.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// Part of a column's length below which it counts as a combination of the others.
static const double nothing_new = 1e-9;

// The square of that part above which X'X tells it to many digits.
static const double enough_new = 1e-8;

// Rotates a row v into the triangle r (side p, rows `stride` apart); v is used up.
static void rotate_in(double *r, size_t stride, size_t p, double *v) {
    for (size_t j = 0; j < p; j++) {
        if (v[j] == 0)
            continue;
        double *row = r + j * stride, length = hypot(row[j], v[j]);
        double c = row[j] / length, s = v[j] / length;
        for (size_t k = j; k < p; k++) {
            double above = row[k];
            row[k] = c * above + s * v[k];
            v[k] = c * v[k] - s * above;
        }
    }
}

// The first column from the left that is a combination of those before it, or p.
static size_t first_dependent(const double *r, size_t stride, size_t p) {
    for (size_t j = 0; j < p; j++) {
        double length = 0;
        for (size_t i = 0; i <= j; i++)
            length = hypot(length, r[i * stride + j]);
        if (!(fabs(r[j * stride + j]) > nothing_new * length))
            return j;
    }
    return p;
}

// Moves the column at place `from` of the order to the later place `to` and makes the whole
// triangular again. room: columns x (columns + 1) numbers.
static void move_column(Design *d, size_t from, size_t to, double *room) {
    size_t p = d->columns, moved = d->kept[from];
    double *old = room, *v = room + p * p;
    memmove(d->kept + from, d->kept + from + 1, (to - from) * sizeof *d->kept);
    d->kept[to] = moved;
    memcpy(old, d->triangle, p * p * sizeof *old);
    memset(d->triangle, 0, p * p * sizeof *old);
    for (size_t i = 0; i < p; i++) {
        const double *row = old + i * p;
        memcpy(v, row, p * sizeof *v);
        memcpy(v + from, row + from + 1, (to - from) * sizeof *v);
        v[to] = row[from];
        rotate_in(d->triangle, p, p, v);
    }
}

// Turns R into its inverse on the kept columns, and what is right of them into R^-1 times it.
static void invert(Design *d, double length) {
    size_t p = d->columns, rank = d->rank;
    double *r = d->triangle;
    for (size_t j = rank; j < p; j++) // dropped columns first: they need R itself
        for (size_t i = rank; i-- > 0;) {
            double sum = r[i * p + j];
            for (size_t k = i + 1; k < rank; k++)
                sum -= r[i * p + k] * r[k * p + j];
            r[i * p + j] = sum / r[i * p + i];
        }
    for (size_t j = 0; j < rank; j++) {
        double diagonal = 1 / r[j * p + j];
        for (size_t i = 0; i < j; i++) { // columns before j are inverted already
            double sum = 0;
            for (size_t k = i; k < j; k++)
                sum += r[i * p + k] * r[k * p + j];
            r[i * p + j] = -sum * diagonal;
        }
        r[j * p + j] = diagonal;
    }
    for (size_t j = 0; j < rank; j++)
        for (size_t i = 0; i <= j; i++)
            r[i * p + j] *= length;
}

const double *design_row_of(const DesignRows *rows, size_t i, double *room) {
    if (rows->values != NULL)
        return rows->values + i * rows->columns;
    const uint16_t *ones = rows->ones + i * rows->width;
    memset(room, 0, rows->columns * sizeof *room);
    for (size_t k = 0; k < rows->width && ones[k] < rows->columns; k++)
        room[ones[k]] = 1;
    return room;
}

// room: 2 columns numbers.
static void rotate_rows(Design *d, const DesignRows *rows, const bool *used, double *room) {
    double *v = room + d->columns;
    for (size_t i = 0; i < rows->n; i++) {
        if (used != NULL && !used[i])
            continue;
        memcpy(v, design_row_of(rows, i, room), d->columns * sizeof *v);
        rotate_in(d->triangle, d->columns, d->columns, v);
    }
}

// X'X of rows of zeros and ones: counts, so without rounding; its upper half.
static void count_together(double *g, const DesignRows *rows, const bool *used) {
    const size_t columns = rows->columns, width = rows->width;
    for (size_t i = 0; i < rows->n; i++) {
        const uint16_t *ones = rows->ones + i * width;
        for (size_t j = 0; (used == NULL || used[i]) && j < width && ones[j] < columns; j++)
            for (size_t k = 0; k <= j; k++)
                g[ones[k] * columns + ones[j]]++;
    }
}

// The triangle from X'X. False if so little of a column is new that the rows themselves are needed
// to tell how much.
static bool factor(double *g, size_t p) {
    for (size_t j = 0; j < p; j++) {
        const double length = g[j * p + j];
        for (size_t i = 0; i <= j; i++) {
            double sum = g[i * p + j];
            for (size_t k = 0; k < i; k++)
                sum -= g[k * p + i] * g[k * p + j];
            if (i == j && !(sum > enough_new * length))
                return false;
            g[i * p + j] = i == j ? sqrt(sum) : sum / g[i * p + i];
        }
    }
    return true;
}

static size_t rows_used(const DesignRows *rows, const bool *used) {
    size_t count = 0;
    for (size_t i = 0; i < rows->n; i++)
        count += used == NULL || used[i];
    return count;
}

static void find_triangle(Design *d, const DesignRows *rows, const bool *used, double *room) {
    if (rows->values == NULL) {
        count_together(d->triangle, rows, used);
        if (factor(d->triangle, d->columns))
            return;
        memset(d->triangle, 0, d->columns * d->columns * sizeof *d->triangle);
    }
    rotate_rows(d, rows, used, room);
}

bool design_open(Design *design, const DesignRows *rows, const bool *used, size_t last) {
    const size_t columns = rows->columns;
    Design d = {.columns = columns,
                .rank = columns,
                .kept = calloc(columns + 1, sizeof *d.kept),
                .triangle = calloc(columns * columns + 1, sizeof *d.triangle)};
    double *room = calloc(columns * (columns + 2) + 1, sizeof *room);
    if (d.kept == NULL || d.triangle == NULL || room == NULL) {
        free(room);
        design_close(&d);
        return false;
    }
    for (size_t j = 0; j < columns; j++)
        d.kept[j] = j;
    find_triangle(&d, rows, used, room);
    size_t dependent;
    while ((dependent = first_dependent(d.triangle, columns, d.rank)) < d.rank) {
        move_column(&d, dependent, columns - 1, room);
        d.rank--;
    }
    for (size_t j = 0; j + 1 < d.rank; j++)
        if (d.kept[j] == last) {
            move_column(&d, j, d.rank - 1, room);
            break;
        }
    invert(&d, sqrt((double)rows_used(rows, used)));
    free(room);
    *design = d;
    return true;
}

void design_close(Design *design) {
    free(design->kept);
    free(design->triangle);
    *design = (Design){0};
}

void design_row(const Design *d, const double *row, double *coordinates) {
    for (size_t j = 0; j < d->rank; j++) {
        double sum = 0;
        for (size_t i = 0; i <= j; i++)
            sum += row[d->kept[i]] * d->triangle[i * d->columns + j];
        coordinates[j] = sum;
    }
}

void design_cross(const Design *d, const double *cross, double *result, double *room) {
    const size_t p = d->columns, rank = d->rank;
    double *half = room + p;
    for (size_t i = 0; i < p; i++)
        design_row(d, cross + i * p, half + i * rank);
    for (size_t k = 0; k < rank; k++) {
        for (size_t i = 0; i < p; i++)
            room[i] = half[i * rank + k];
        design_row(d, room, result + k * rank);
    }
}

void design_coefficients(const Design *d, const double *coordinates, double *coefficients) {
    for (size_t i = 0; i < d->columns; i++) {
        double sum = 0;
        for (size_t j = i; j < d->rank; j++)
            sum += d->triangle[i * d->columns + j] * coordinates[j];
        coefficients[d->kept[i]] = sum;
    }
}

// One entry: row i of the inverse triangle, covariance, row j.
static double covariance_of(const Design *d, const double *covariance, size_t i, size_t j) {
    double sum = 0;
    for (size_t k = i; k < d->rank; k++)
        for (size_t l = j; l < d->rank; l++)
            sum += d->triangle[i * d->columns + k] * covariance[k * d->rank + l] *
                   d->triangle[j * d->columns + l];
    return sum;
}

void design_covariance(const Design *d, const double *covariance, double *result) {
    for (size_t i = 0; i < d->columns; i++)
        for (size_t j = 0; j <= i; j++) {
            double value = i < d->rank ? covariance_of(d, covariance, i, j) : NAN;
            result[d->kept[i] * d->columns + d->kept[j]] = value;
            result[d->kept[j] * d->columns + d->kept[i]] = value;
        }
}

void design_null(const Design *d, size_t which, double *combination) {
    memset(combination, 0, d->columns * sizeof *combination);
    for (size_t i = 0; i < d->rank; i++)
        combination[d->kept[i]] = -d->triangle[i * d->columns + d->rank + which];
    combination[d->kept[d->rank + which]] = 1;
}
