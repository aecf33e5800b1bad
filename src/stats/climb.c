// SPDX-License-Identifier: GPL-3.0-or-later
// Newton's method in orthogonal coordinates, with an eye on where it is running to.
#include "stats/climb.h"

#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_NEWTON = 36, MOST_FIRTH = 500, FIRST_SUSPICION = 6 };

double climb_trials(const LogisticData *d, size_t i) {
    return d->trials == NULL ? 1 : d->trials[i];
}

static double dot(const double *a, const double *b, size_t n) {
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

DesignRows climb_rows(const LogisticData *d) {
    return (DesignRows){d->design, d->ones, d->rows, d->columns, d->width};
}

const double *climb_row(const LogisticData *d, size_t i, double *room) {
    const DesignRows rows = climb_rows(d);
    return design_row_of(&rows, i, room);
}

static double predictor(const Climb *c, size_t i) {
    if (c->row != NULL)
        return dot(c->row + i * c->design.rank, c->at, c->design.rank);
    const uint16_t *ones = c->data->ones + i * c->data->width;
    double sum = 0;
    for (size_t k = 0; k < c->data->width; k++)
        sum += c->coefficients[ones[k]];
    return sum;
}

// Change of row i along a direction of the coefficients.
static double along(const Climb *c, size_t i, const double *direction) {
    const LogisticData *d = c->data;
    if (d->design != NULL)
        return dot(d->design + i * d->columns, direction, d->columns);
    const uint16_t *ones = d->ones + i * d->width;
    double sum = 0;
    for (size_t k = 0; k < d->width && ones[k] < d->columns; k++)
        sum += direction[ones[k]];
    return sum;
}

// ---- one step ----

static gsl_matrix_view whole(Climb *c) {
    return gsl_matrix_view_array(c->information, c->design.rank, c->design.rank);
}

// A row's risk and its opposite, and what it adds to the information, score and likelihood.
typedef struct {
    double risk, other, weight, residual, likelihood;
} Part;

static Part part_of(const Climb *c, size_t i) {
    double n = climb_trials(c->data, i), y = c->data->events[i], u = predictor(c, i);
    double small = exp(-fabs(u)), less = small / (1 + small), more = 1 / (1 + small);
    Part p = {u > 0 ? more : less, u > 0 ? less : more, 0, 0, 0};
    p.weight = n * p.risk * p.other;
    // y - np from the nearer end, so that risks close to 1 lose nothing
    p.residual = u > 0 ? n * p.other - (n - y) : y - n * p.risk;
    p.likelihood = y * u - n * (fmax(u, 0) + log1p(small));
    return p;
}

static Part look_at(Climb *c, size_t i) {
    const Part p = part_of(c, i);
    c->likelihood += p.likelihood;
    c->weight[i] = p.weight;
    c->tilt[i] = p.other - p.risk;
    return p;
}

static void add_up_coordinates(Climb *c) {
    size_t rank = c->design.rank;
    memset(c->score, 0, rank * sizeof *c->score);
    memset(c->information, 0, rank * rank * sizeof *c->information);
    for (size_t i = 0; i < c->data->rows; i++) {
        if (!c->used[i])
            continue;
        const double *z = c->row + i * rank;
        const Part p = look_at(c, i);
        for (size_t j = 0; j < rank; j++) {
            c->score[j] += p.residual * z[j];
            double wz = p.weight * z[j];
            for (size_t k = 0; k <= j; k++)
                c->information[j * rank + k] += wz * z[k];
        }
    }
}

// By column, only where there are ones, and then brought to the coordinates.
static void add_up_ones(Climb *c) {
    const size_t columns = c->data->columns, width = c->data->width;
    double *score = c->cross + columns * columns;
    memset(c->cross, 0, columns * (columns + 1) * sizeof *c->cross);
    for (size_t i = 0; i < c->data->rows; i++) {
        if (!c->used[i])
            continue;
        const uint16_t *ones = c->data->ones + i * width;
        const Part p = look_at(c, i);
        for (size_t j = 0; j < width && ones[j] < columns; j++) {
            score[ones[j]] += p.residual;
            double *cross = c->cross + ones[j] * columns;
            for (size_t k = 0; k <= j; k++)
                cross[ones[k]] += p.weight;
        }
    }
    for (size_t j = 0; j < columns; j++)
        for (size_t k = 0; k < j; k++)
            c->cross[k * columns + j] = c->cross[j * columns + k];
    design_row(&c->design, score, c->score);
    design_cross(&c->design, c->cross, c->information, c->room);
}

// Half the log determinant of the information of the coefficients, given the factor.
static double half_log_determinant(const Climb *c) {
    double sum = 0;
    for (size_t j = 0; j < c->design.rank; j++)
        sum += log(c->information[j * c->design.rank + j]) -
               log(fabs(c->design.triangle[j * c->design.columns + j]));
    return sum;
}

// Length of z before the factor, squared: z' I^-1 z.
static double leverage(const Climb *c, const double *z, double *solved) {
    size_t rank = c->design.rank;
    double sum = 0;
    for (size_t j = 0; j < rank; j++) {
        const double *factor = c->information + j * rank;
        solved[j] = (z[j] - dot(factor, solved, j)) / factor[j];
        sum += solved[j] * solved[j];
    }
    return sum;
}

// Firth's term of a row: its leverage times (1/2 - p).
static double pull_of(const Climb *c, size_t i, double lever) {
    return c->weight[i] * lever * c->tilt[i] / 2;
}

static void add_penalty_coordinates(Climb *c) {
    size_t rank = c->design.rank;
    for (size_t i = 0; i < c->data->rows; i++) {
        if (!c->used[i])
            continue;
        const double *z = c->row + i * rank;
        double pull = pull_of(c, i, leverage(c, z, c->step));
        for (size_t j = 0; j < rank; j++)
            c->score[j] += pull * z[j];
    }
}

// Covariance of the coefficients into c->cross (0 for dropped columns), from the factor.
static void covariance_of_columns(Climb *c) {
    const Design *d = &c->design;
    const size_t columns = d->columns, rank = d->rank;
    double *z = c->room + rank * rank; // the column before the factor: c->room + i * rank
    memset(c->cross, 0, columns * columns * sizeof *c->cross);
    for (size_t i = 0; i < rank; i++) {
        for (size_t j = 0; j < rank; j++)
            z[j] = j < i ? 0 : d->triangle[i * columns + j];
        leverage(c, z, c->room + i * rank);
    }
    for (size_t i = 0; i < rank; i++)
        for (size_t j = 0; j <= i; j++) {
            const double value = dot(c->room + i * rank, c->room + j * rank, rank);
            c->cross[d->kept[i] * columns + d->kept[j]] = value;
            c->cross[d->kept[j] * columns + d->kept[i]] = value;
        }
}

static double leverage_of_ones(const Climb *c, const uint16_t *ones) {
    const size_t columns = c->data->columns;
    double sum = 0;
    for (size_t j = 0; j < c->data->width && ones[j] < columns; j++) {
        const double *row = c->cross + ones[j] * columns;
        for (size_t k = 0; k < j; k++)
            sum += 2 * row[ones[k]];
        sum += row[ones[j]];
    }
    return sum;
}

static void add_penalty_ones(Climb *c) {
    const size_t columns = c->data->columns, width = c->data->width;
    double *score = c->cross + columns * columns;
    covariance_of_columns(c);
    memset(score, 0, columns * sizeof *score);
    for (size_t i = 0; i < c->data->rows; i++) {
        if (!c->used[i])
            continue;
        const uint16_t *ones = c->data->ones + i * width;
        const double pull = pull_of(c, i, leverage_of_ones(c, ones));
        for (size_t j = 0; j < width && ones[j] < columns; j++)
            score[ones[j]] += pull;
    }
    design_row(&c->design, score, c->step);
    for (size_t j = 0; j < c->design.rank; j++)
        c->score[j] += c->step[j];
}

static bool factor(Climb *c) {
    gsl_matrix_view m = whole(c);
    if (c->design.rank > 0 && gsl_linalg_cholesky_decomp1(&m.matrix) != GSL_SUCCESS)
        return false;
    c->penalty = half_log_determinant(c);
    return isfinite(c->penalty);
}

// Everything at the point. False if the information is singular.
static bool look(Climb *c) {
    if (c->row == NULL)
        design_coefficients(&c->design, c->at, c->coefficients);
    c->likelihood = 0;
    if (c->row == NULL)
        add_up_ones(c);
    else
        add_up_coordinates(c);
    if (!factor(c))
        return false;
    if (c->firth && c->row == NULL)
        add_penalty_ones(c);
    else if (c->firth)
        add_penalty_coordinates(c);
    return isfinite(c->likelihood);
}

// The step into c->step; returns the score along it, the square of the step in standard errors.
// The last coordinate's row of the factor is the last, so holding it is leaving that row out.
static double solve(Climb *c) {
    size_t rank = c->design.rank, n = c->free;
    memset(c->step, 0, rank * sizeof *c->step);
    if (n == 0)
        return 0;
    gsl_matrix_view m = whole(c), part = gsl_matrix_submatrix(&m.matrix, 0, 0, n, n);
    gsl_vector_view b = gsl_vector_view_array(c->score, n), x = gsl_vector_view_array(c->step, n);
    gsl_linalg_cholesky_solve(&part.matrix, &b.vector, &x.vector);
    return dot(c->score, c->step, n);
}

double climb_objective(const Climb *c) {
    return c->likelihood + (c->firth ? c->penalty : 0);
}

static void move(Climb *c, double part) {
    for (size_t j = 0; j < c->free; j++)
        c->at[j] += part * c->step[j];
}

// Goes along the step, halved until the objective does not fall (beyond rounding), and looks there.
// Fisher's step may go about twice too far where the penalty is curved, and would then swing for
// ever: where the slope along it has turned, a secant takes it back first.
static bool advance(Climb *c, double decrement, double *room) {
    double before = climb_objective(c), part = 1, slack = 1e-12 * (1 + fabs(before));
    size_t size = c->design.rank * sizeof *room;
    memcpy(room, c->step, size);
    move(c, 1);
    for (int look_at = 0; look_at < 40; look_at++) {
        bool seen = look(c);
        double slope = dot(c->score, room, c->free), shorter = part / 2;
        memcpy(c->step, room, size);
        const bool turned = seen && c->firth && look_at == 0 && slope < -decrement / 4;
        if (turned)
            shorter = part * decrement / (decrement - slope);
        else if (seen && climb_objective(c) >= before - slack)
            return true;
        move(c, shorter - part);
        part = shorter;
    }
    return false;
}

// Near the top Fisher's steps shrink in proportion. Takes away from the one at hand what the last
// move has left of the step before it, as a secant does (Anderson 1965, J ACM 12:547-560, depth
// one).
static void foresee(Climb *c) {
    double left = 0, gone = 0;
    for (size_t j = 0; j < c->free; j++) {
        const double change = c->step[j] - c->fisher[j];
        left += c->step[j] * change;
        gone += change * change;
    }
    const double part = gone > 0 ? left / gone : 0;
    for (size_t j = 0; j < c->free; j++) {
        const double own = c->step[j];
        c->step[j] -= part * (c->moved[j] + own - c->fisher[j]);
        c->fisher[j] = own;
    }
}

// One step of the climb, remembered for the next.
static bool go(Climb *c, double decrement, double *room) {
    const size_t rank = c->design.rank;
    const bool near = c->firth && c->iterations > 1 && decrement < 1;
    if (near)
        foresee(c);
    else
        memcpy(c->fisher, c->step, rank * sizeof *c->fisher);
    memcpy(c->moved, c->at, rank * sizeof *c->moved);
    const bool good = advance(c, near ? dot(c->score, c->step, c->free) : decrement, room);
    for (size_t j = 0; j < rank; j++)
        c->moved[j] = c->at[j] - c->moved[j];
    return good;
}

// ---- separation ----

// Whether along this direction of the coefficients no row used is fitted worse, every row that
// it leaves alone truly so; these rows remain in `rest`. tolerance: of the largest change of a row.
static bool improves_all(const Climb *c, const double *direction, double tolerance, bool *rest) {
    const LogisticData *d = c->data;
    double largest = 0;
    for (size_t i = 0; i < d->rows; i++)
        if (c->used[i])
            largest = fmax(largest, fabs(along(c, i, direction)));
    if (!(largest > 0))
        return false;
    for (size_t i = 0; i < d->rows; i++) {
        rest[i] = c->used[i];
        if (!c->used[i])
            continue;
        double change = along(c, i, direction) / largest;
        bool none = d->events[i] == 0, all = d->events[i] == climb_trials(d, i);
        if (fabs(change) <= tolerance)
            continue;
        if (!(change > 0 ? all : none))
            return false;
        rest[i] = false;
    }
    return true;
}

// The last step as a direction, made exact: rows that it hardly moves must truly stay, so it has
// to be a combination of columns that is 0 in all of them.
static bool exact_direction(const Climb *c, const bool *rest, const double *rough, double *exact,
                            double *combination) {
    Design remaining;
    size_t columns = c->data->columns;
    const DesignRows rows = climb_rows(c->data);
    if (!design_open(&remaining, &rows, rest, columns))
        return false;
    memset(exact, 0, columns * sizeof *exact);
    for (size_t k = remaining.rank; k < columns; k++) {
        design_null(&remaining, k - remaining.rank, combination);
        for (size_t j = 0; j < columns; j++)
            exact[j] += rough[remaining.kept[k]] * combination[j];
    }
    bool found = remaining.rank < c->design.rank;
    design_close(&remaining);
    return found;
}

// True if the step is a direction of separation: then `rest` marks the rows without separation
// and `direction` is that of the coefficients. room: columns numbers.
static bool separates(const Climb *c, bool *rest, double *direction, double *room) {
    double *rough = room, *combination = room + c->data->columns;
    design_coefficients(&c->design, c->step, rough);
    return improves_all(c, rough, 1e-5, rest) &&
           exact_direction(c, rest, rough, direction, combination) &&
           improves_all(c, direction, 1e-9, rest);
}

// ---- the climb ----

static bool is_one(const LogisticData *d, size_t i, size_t column) {
    if (d->design != NULL)
        return d->design[i * d->columns + column] == 1;
    for (size_t k = 0; k < d->width; k++)
        if (d->ones[i * d->width + k] == column)
            return true;
    return false;
}

// Where the first column is the intercept the climb starts with the rows' mean risk, which saves
// the steps that only lead there.
static void start(Climb *c) {
    const LogisticData *d = c->data;
    double events = 0, trials = 0;
    for (size_t i = 0; i < d->rows; i++) {
        if (!c->used[i])
            continue;
        if (!is_one(d, i, c->design.kept[0]))
            return;
        events += d->events[i];
        trials += climb_trials(d, i);
    }
    if (events > 0 && events < trials)
        c->at[0] = log(events / (trials - events)) / c->design.triangle[0];
}

bool climb_open(Climb *c, size_t last) {
    const LogisticData *d = c->data;
    const DesignRows rows = climb_rows(d);
    if (!design_open(&c->design, &rows, c->used, last))
        return false;
    size_t rank = c->design.rank, columns = d->columns;
    const size_t by_row = d->design != NULL ? d->rows * rank : columns * (columns + 2) + 1;
    c->free = rank;
    const size_t fixed = rank * (rank + 5) + columns * (rank + 1);
    c->at = calloc(fixed + by_row + 2 * d->rows + 1, sizeof *c->at);
    if (c->at == NULL) {
        design_close(&c->design);
        return false;
    }
    c->weight = c->at + fixed + by_row;
    c->tilt = c->weight + d->rows;
    c->score = c->at + rank;
    c->step = c->score + rank;
    c->fisher = c->step + rank;
    c->moved = c->fisher + rank;
    c->information = c->moved + rank;
    c->room = c->information + rank * rank;
    c->row = d->design != NULL ? c->room + columns * (rank + 1) : NULL;
    c->cross = d->design != NULL ? NULL : c->room + columns * (rank + 1);
    c->coefficients = d->design != NULL ? NULL : c->cross + columns * (columns + 1);
    for (size_t i = 0; i < d->rows && c->row != NULL; i++)
        if (c->used[i])
            design_row(&c->design, d->design + i * columns, c->row + i * rank);
    if (rank > 0)
        start(c);
    return true;
}

void climb_close(Climb *c) {
    free(c->at);
    design_close(&c->design);
}

// Newton's steps (Fisher's for Firth) to the top. direction and rest as in separates, used only
// without penalty. room: 2 columns numbers.
LogisticStatus climb_run(Climb *c, bool *rest, double *direction, double *room) {
    double decrement = INFINITY;
    unsigned most = c->firth ? MOST_FIRTH : MOST_NEWTON;
    c->iterations = 0;
    if (!look(c))
        return LOGISTIC_NOT_CONVERGED;
    while (c->iterations++ < most) {
        double last = decrement;
        decrement = solve(c);
        // beyond 1e-9 standard errors Fisher's steps still shrink in proportion, until rounding
        // stops them
        bool enough =
            decrement <= 1e-18 && (!c->firth || decrement <= 1e-25 || decrement > last / 4);
        if (enough) {
            move(c, 1);
            return look(c) ? LOGISTIC_CONVERGED : LOGISTIC_NOT_CONVERGED;
        }
        if (!c->firth && c->iterations > FIRST_SUSPICION && separates(c, rest, direction, room))
            return LOGISTIC_SEPARATED;
        if (!go(c, decrement, room))
            return LOGISTIC_NOT_CONVERGED;
    }
    return LOGISTIC_NOT_CONVERGED;
}
