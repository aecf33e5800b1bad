// SPDX-License-Identifier: GPL-3.0-or-later
// Logistic regression by maximum likelihood with separation found out, and by Firth's penalised
// likelihood, which is finite there too.
#ifndef CROSSWARD_STATS_LOGISTIC_H
#define CROSSWARD_STATS_LOGISTIC_H

#include "stats/interval.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// What is fitted: events[i] of trials[i] (NULL: 1 each) for the covariates of row i of design, rows
// x columns, row by row. An intercept is a column of ones, put there by the caller. Equal rows are
// best put together, with their trials: work and memory are rows x columns. Where every covariate
// is 0 or 1, ones may be given in place of design (NULL): ones[i * width ..] are the columns that
// are 1 in row i, ascending, filled up with the number of columns; work and memory are then rows x
// width. Read only; working memory is freed before the return.
typedef struct {
    const double *design, *events, *trials;
    size_t rows, columns;
    const uint16_t *ones;
    size_t width;
} LogisticData;

typedef enum {
    LOGISTIC_CONVERGED,
    LOGISTIC_SEPARATED, // estimates run off to infinity; what has a finite limit has got it
    LOGISTIC_NOT_CONVERGED,
    LOGISTIC_IMPOSSIBLE // no trials, events beyond trials, a number missing, or no memory
} LogisticStatus;

typedef struct {
    LogisticStatus status;
    size_t parameters;              // columns estimated, infinite ones included
    double df;                      // rows with trials less parameters
    double deviance, null_deviance; // against one risk for each row; of a common risk
    double log_likelihood; // of the counts, binomial coefficients included, without penalty
    double penalised; // the same with Firth's penalty, half the log determinant of the information
    unsigned iterations;
} LogisticFit;

// Maximum likelihood by iteratively reweighted least squares (McCullagh & Nelder 1989, Generalized
// Linear Models, 2.5 and 4.4). coefficients: columns numbers, log odds for a step of 1 in the
// column; NaN for a column dropped as a combination of those before it (or of zeros). covariance:
// columns x columns (NULL: not wanted), the inverse of the expected information, NaN where there is
// none. Separation (Albert & Anderson 1984, Biometrika 71:1-10) is never reported as converged:
// when the steps turn into a direction along which no row's fit gets worse, the rows that it fits
// perfectly are set aside, the coefficients that it moves become -Inf or +Inf, and the others, the
// deviance and the covariance are those of the remaining rows, the limit of maximum likelihood
// (Geyer 2009, Electron J Stat 3:259-289). If impossible or not converged, coefficients and
// covariance are NaN.
LogisticFit logistic_fit(const LogisticData *data, double *coefficients, double *covariance);

// The same as long as nothing separates. Otherwise it goes no further: LOGISTIC_SEPARATED, with
// coefficients and covariance NaN.
LogisticFit logistic_fit_unseparated(const LogisticData *data, double *coefficients,
                                     double *covariance);

// Firth's penalised likelihood (Firth 1993, Biometrika 80:27-38; Heinze & Schemper 2002, Stat Med
// 21:2409-2419), by Fisher scoring. Finite under separation. Otherwise as logistic_fit; covariance
// is the inverse of the expected information, without the penalty, at the estimates.
LogisticFit logistic_firth(const LogisticData *data, double *coefficients, double *covariance);

// Limits of one coefficient of Firth's fit by penalised profile likelihood (Heinze & Schemper
// 2002, section 2): where twice the loss of penalised likelihood, maximised over the other
// coefficients, reaches the chi-square quantile (1 df) of the confidence. NaN if the column is
// dropped or a fit does not converge.
StatsInterval logistic_firth_limits(const LogisticData *data, size_t column, double confidence);

// Wald limits, coefficient -+ z sqrt(variance); NaN limits for an infinite coefficient.
StatsInterval logistic_wald(double coefficient, double variance, double confidence);

// Risk, 0 to 1, of a row of covariates (columns numbers). Dropped coefficients (NaN) count as 0;
// an infinite one gives risk 0 or 1 where its covariate is not 0, and NaN against its opposite.
double logistic_risk(const double *coefficients, const double *row, size_t columns);

// The same for row i of the data.
double logistic_risk_of(const double *coefficients, const LogisticData *data, size_t i);

#endif
