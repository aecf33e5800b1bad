// SPDX-License-Identifier: GPL-3.0-or-later
// What is made of a climb: estimates, their limits under separation, profile limits, risks.
#include "stats/logistic.h"
#include "stats/climb.h"
#include "stats/distribution.h"

#include <gsl/gsl_linalg.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

// ---- results ----

static double log_likelihood(const LogisticData *d, double kernel, const bool *used) {
    for (size_t i = 0; i < d->rows; i++) {
        double n = climb_trials(d, i), y = d->events[i];
        if (used[i] && y > 0 && y < n)
            kernel += gsl_sf_lngamma(n + 1) - gsl_sf_lngamma(y + 1) - gsl_sf_lngamma(n - y + 1);
    }
    return kernel;
}

// Twice the kernel log-likelihood of a risk of its own for each row.
static double saturated(const LogisticData *d) {
    double sum = 0;
    for (size_t i = 0; i < d->rows; i++) {
        double n = climb_trials(d, i), y = d->events[i];
        if (y > 0 && y < n)
            sum += y * log(y / n) + (n - y) * log1p(-y / n);
    }
    return 2 * sum;
}

static double null_deviance(const LogisticData *d) {
    double n = 0, y = 0;
    for (size_t i = 0; i < d->rows; i++) {
        n += climb_trials(d, i);
        y += d->events[i];
    }
    double kernel = y > 0 && y < n ? y * log(y / n) + (n - y) * log1p(-y / n) : 0;
    return saturated(d) - 2 * kernel;
}

static void fill(double *values, size_t n, double value) {
    for (size_t i = 0; values != NULL && i < n; i++)
        values[i] = value;
}

// Coefficients and covariance at the top; dropped columns become NaN.
static bool write_down(Climb *c, double *coefficients, double *covariance) {
    size_t rank = c->design.rank, columns = c->design.columns;
    design_coefficients(&c->design, c->at, coefficients);
    for (size_t k = rank; k < columns; k++)
        coefficients[c->design.kept[k]] = NAN;
    if (covariance == NULL)
        return true;
    gsl_matrix_view m = gsl_matrix_view_array(c->information, rank, rank);
    if (rank > 0 && gsl_linalg_cholesky_invert(&m.matrix) != GSL_SUCCESS)
        return false;
    design_covariance(&c->design, c->information, covariance);
    return true;
}

// What a direction of separation moves: infinite in the coefficients, without variance. A
// coefficient that it leaves alone but that the remaining rows don't settle is NaN.
static void mark_infinite(const Climb *c, const double *sign, double *coefficients,
                          double *covariance, double *combination) {
    size_t columns = c->data->columns;
    for (size_t k = c->design.rank; k < columns; k++) {
        if (sign[c->design.kept[k]] == 0)
            continue; // dropped from the start, not by separation
        design_null(&c->design, k - c->design.rank, combination);
        for (size_t j = 0; j < columns; j++)
            if (fabs(combination[j]) > 1e-9)
                coefficients[j] = NAN;
    }
    for (size_t j = 0; j < columns; j++) {
        if (sign[j] != 0)
            coefficients[j] = sign[j] * INFINITY;
        for (size_t k = 0; covariance != NULL && !isfinite(coefficients[j]) && k < columns; k++)
            covariance[j * columns + k] = covariance[k * columns + j] = NAN;
    }
}

// Signs of the coefficients that a direction moves, where none is noted yet: what it adds to the
// predictor of some row must count against what it adds in all.
static void note_signs(const Climb *c, const double *direction, double *sign) {
    const LogisticData *d = c->data;
    double largest = 0;
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < d->rows; i++) {
            const double *row = climb_row(d, i, c->room);
            for (size_t j = 0; j < d->columns; j++) {
                double share = row[j] * direction[j];
                if (pass == 0)
                    largest = fmax(largest, fabs(share));
                else if (sign[j] == 0 && fabs(share) > 1e-9 * largest)
                    sign[j] = direction[j] > 0 ? 1 : -1;
            }
        }
}

static bool is_possible(const LogisticData *d) {
    double n = 0;
    for (size_t i = 0; i < d->rows; i++) {
        double t = climb_trials(d, i);
        if (!(d->events[i] >= 0 && d->events[i] <= t && isfinite(t)))
            return false;
        n += t;
    }
    for (size_t i = 0; d->design != NULL && i < d->rows * d->columns; i++)
        if (!isfinite(d->design[i]))
            return false;
    return n > 0 && d->columns > 0;
}

// Room of a fit beside that of its climb.
typedef struct {
    bool *used, *rest;
    double *direction, *sign, *numbers; // columns, columns, 2 columns numbers
} Room;

static bool open_room(Room *r, const LogisticData *d) {
    *r = (Room){.used = calloc(2 * d->rows + 1, sizeof *r->used),
                .direction = calloc(4 * d->columns + 1, sizeof *r->direction)};
    if (r->used == NULL || r->direction == NULL) {
        free(r->used);
        free(r->direction);
        return false;
    }
    r->rest = r->used + d->rows;
    r->sign = r->direction + d->columns;
    r->numbers = r->sign + d->columns;
    for (size_t i = 0; i < d->rows; i++)
        r->used[i] = climb_trials(d, i) > 0;
    return true;
}

static void close_room(Room *r) {
    free(r->used);
    free(r->direction);
}

static void add_results(LogisticFit *fit, const Climb *c) {
    fit->deviance = fmax(0, saturated(c->data) - 2 * c->likelihood);
    fit->null_deviance = null_deviance(c->data);
    fit->log_likelihood = log_likelihood(c->data, c->likelihood, c->used);
    fit->penalised = fit->log_likelihood + c->penalty;
}

typedef enum { TO_THE_END, UNSEPARATED, FIRTH } Way;

// Climbs, and again on what remains after each separation.
static LogisticFit fit_all(const LogisticData *data, Room *r, Way way, double *coefficients,
                           double *covariance) {
    LogisticFit fit = {LOGISTIC_IMPOSSIBLE, 0, NAN, NAN, NAN, NAN, NAN, 0};
    bool separated = false;
    for (;;) {
        Climb c = {.data = data, .used = r->used, .firth = way == FIRTH};
        if (!climb_open(&c, data->columns))
            return fit;
        if (!separated)
            fit.parameters = c.design.rank;
        fit.status = climb_run(&c, r->rest, r->direction, r->numbers);
        fit.iterations += c.iterations;
        if (fit.status == LOGISTIC_SEPARATED && way == TO_THE_END) {
            note_signs(&c, r->direction, r->sign);
            memcpy(r->used, r->rest, data->rows * sizeof *r->used);
            separated = true;
        } else if (fit.status == LOGISTIC_CONVERGED) {
            add_results(&fit, &c);
            if (!write_down(&c, coefficients, covariance))
                fit.status = LOGISTIC_NOT_CONVERGED;
            else if (separated) {
                mark_infinite(&c, r->sign, coefficients, covariance, r->numbers);
                fit.status = LOGISTIC_SEPARATED;
            }
        }
        climb_close(&c);
        if (fit.status != LOGISTIC_SEPARATED || isfinite(fit.deviance) || way != TO_THE_END)
            return fit;
    }
}

static LogisticFit fit_any(const LogisticData *data, Way way, double *coefficients,
                           double *covariance) {
    LogisticFit fit = {LOGISTIC_IMPOSSIBLE, 0, NAN, NAN, NAN, NAN, NAN, 0};
    Room room;
    if (is_possible(data) && open_room(&room, data)) {
        fit = fit_all(data, &room, way, coefficients, covariance);
        double rows = 0;
        for (size_t i = 0; i < data->rows; i++)
            rows += climb_trials(data, i) > 0;
        fit.df = rows - (double)fit.parameters;
        close_room(&room);
    }
    if (fit.status == LOGISTIC_IMPOSSIBLE || fit.status == LOGISTIC_NOT_CONVERGED ||
        (fit.status == LOGISTIC_SEPARATED && way == UNSEPARATED)) {
        fill(coefficients, data->columns, NAN);
        fill(covariance, data->columns * data->columns, NAN);
    }
    return fit;
}

LogisticFit logistic_fit(const LogisticData *data, double *coefficients, double *covariance) {
    return fit_any(data, TO_THE_END, coefficients, covariance);
}

LogisticFit logistic_fit_unseparated(const LogisticData *data, double *coefficients,
                                     double *covariance) {
    return fit_any(data, UNSEPARATED, coefficients, covariance);
}

LogisticFit logistic_firth(const LogisticData *data, double *coefficients, double *covariance) {
    return fit_any(data, FIRTH, coefficients, covariance);
}

// ---- limits ----

// A coefficient's profile: the top, and the last coordinate there.
typedef struct {
    Climb *climb;
    Room *room;
    double top, best;
} Profile;

// Root of twice the loss of penalised likelihood with the last coordinate held at a distance from
// the top, and the slope of that root. NaN if the climb fails.
static double loss_root(const Profile *p, double distance, double *slope) {
    Climb *c = p->climb;
    size_t last = c->design.rank - 1;
    c->at[last] = p->best + distance;
    if (climb_run(c, p->room->rest, p->room->direction, p->room->numbers) != LOGISTIC_CONVERGED)
        return NAN;
    double root = sqrt(fmax(0, 2 * (p->top - climb_objective(c))));
    *slope = fabs(c->score[last]) / root;
    return root;
}

// The distance, on the side of the sign, at which the root is `critical`: Newton's steps in a
// bracket, from a first guess.
static double profile_distance(const Profile *p, double critical, double guess, double sign) {
    double low = 0, high = INFINITY, t = guess;
    for (int step = 0; step < 60; step++) {
        double slope = NAN, root = loss_root(p, sign * t, &slope);
        if (isnan(root))
            return NAN;
        *(root < critical ? &low : &high) = t;
        double next = t + (critical - root) / slope;
        if (!(next > low && next < high))
            next = isinf(high) ? 2 * t : (low + high) / 2;
        if (fabs(next - t) <= 1e-10 * t)
            return next;
        t = next;
    }
    return NAN;
}

static StatsInterval profile_limits(Climb *c, Room *room, double critical) {
    StatsInterval limits = {NAN, NAN, NAN};
    size_t last = c->design.rank - 1, columns = c->design.columns;
    if (climb_run(c, room->rest, room->direction, room->numbers) != LOGISTIC_CONVERGED)
        return limits;
    Profile p = {c, room, climb_objective(c), c->at[last]};
    double unit = c->design.triangle[last * columns + last]; // coefficient for each coordinate
    // the last diagonal of the factor is 1 / the standard error of the last coordinate
    double guess = critical / c->information[last * c->design.rank + last];
    c->free = last;
    double below = profile_distance(&p, critical, guess, -1);
    double above = profile_distance(&p, critical, guess, 1);
    limits.estimate = p.best * unit;
    limits.lower = (unit > 0 ? p.best - below : p.best + above) * unit;
    limits.upper = (unit > 0 ? p.best + above : p.best - below) * unit;
    return limits;
}

StatsInterval logistic_firth_limits(const LogisticData *data, size_t column, double confidence) {
    StatsInterval limits = {NAN, NAN, NAN};
    double critical = distribution_normal_critical(confidence);
    Room room;
    if (isnan(critical) || column >= data->columns || !is_possible(data) || !open_room(&room, data))
        return limits;
    Climb c = {.data = data, .used = room.used, .firth = true};
    if (climb_open(&c, column)) {
        if (c.design.rank > 0 && c.design.kept[c.design.rank - 1] == column)
            limits = profile_limits(&c, &room, critical);
        climb_close(&c);
    }
    close_room(&room);
    return limits;
}

StatsInterval logistic_wald(double coefficient, double variance, double confidence) {
    double reach = distribution_normal_critical(confidence) * sqrt(variance);
    return (StatsInterval){coefficient, coefficient - reach, coefficient + reach};
}

double logistic_risk(const double *coefficients, const double *row, size_t columns) {
    double sum = 0;
    for (size_t j = 0; j < columns; j++)
        if (!isnan(coefficients[j]) && row[j] != 0)
            sum += coefficients[j] * row[j];
    return 1 / (1 + exp(-sum));
}

double logistic_risk_of(const double *coefficients, const LogisticData *d, size_t i) {
    if (d->design != NULL)
        return logistic_risk(coefficients, d->design + i * d->columns, d->columns);
    const uint16_t *ones = d->ones + i * d->width;
    double sum = 0;
    for (size_t k = 0; k < d->width && ones[k] < d->columns; k++)
        if (!isnan(coefficients[ones[k]]))
            sum += coefficients[ones[k]];
    return 1 / (1 + exp(-sum));
}
