// SPDX-License-Identifier: GPL-3.0-or-later
// The way to the top of a logistic likelihood, with or without Firth's penalty: what logistic.c
// builds on.
#ifndef CROSSWARD_STATS_CLIMB_H
#define CROSSWARD_STATS_CLIMB_H

#include "stats/design.h"
#include "stats/logistic.h"

// Set data, used and firth, then climb_open; close when it has returned true.
typedef struct {
    const LogisticData *data;
    const bool *used; // rows that count
    bool firth;
    Design design;
    size_t free; // coordinates that move: all, or all but the last while that is held
    double *at;  // the point: design.rank coordinates
    double *row; // coordinates of every row, rank numbers each; NULL: rows given by their ones
    double *coefficients, *cross; // at the point, only for those: columns + 1 with a 0 at the end;
                                  // score and information by column, columns x (columns + 1)
    double *room;                 // columns x (rank + 1) numbers
    double *weight, *tilt;        // at the point, of each row: its weight; 1 - 2 risk
    double *score, *step, *information; // at the point: rank, rank, rank x rank (Cholesky factor)
    double *fisher, *moved;     // the step before, as Fisher has it, and what was moved then
    double likelihood, penalty; // kernel log-likelihood; half the log determinant of information
    unsigned iterations;
} Climb;

// Orthogonal coordinates of the rows used, `last` (columns: none) the last of them; the point is
// the mean risk of all where there is an intercept, else 0. False if memory runs out.
bool climb_open(Climb *climb, size_t last);
void climb_close(Climb *climb);

// Newton's steps (Fisher's with penalty) from the point to the top. LOGISTIC_SEPARATED, never with
// penalty: along `direction` (columns numbers, changes of the coefficients) no row is fitted worse,
// and those in `rest` (rows) keep their fit. room: 2 columns numbers.
LogisticStatus climb_run(Climb *climb, bool *rest, double *direction, double *room);

// Log-likelihood at the point, penalty included if there is one.
double climb_objective(const Climb *climb);

// trials[i], or 1.
double climb_trials(const LogisticData *data, size_t i);

// The matrix of the data, and its row i: in place, or written to room (columns numbers).
DesignRows climb_rows(const LogisticData *data);
const double *climb_row(const LogisticData *data, size_t i, double *room);

#endif
