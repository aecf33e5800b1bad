// SPDX-License-Identifier: GPL-3.0-or-later
// Comparison with R: logistic regression, separation, Firth's fit, trends.
#include "stats.h"
#include "stats/calibration.h"
#include "stats/logistic.h"
#include "stats/trend.h"

#include <math.h>
#include <string.h>

enum { MOST_COLUMNS = 10 };

static LogisticData data_of(const OracleList *given) {
    size_t columns = (size_t)given[3].values[0];
    return (LogisticData){
        given[0].values, given[1].values, given[2].values, given[0].n / columns, columns, NULL, 0};
}

typedef LogisticFit (*Fit)(const LogisticData *, double *, double *);

// Coefficients and their standard errors; returns 2 columns, or 0 if it did not converge.
static size_t fitted(const OracleList *given, Fit fit, double *answers, LogisticFit *result) {
    double covariance[MOST_COLUMNS * MOST_COLUMNS];
    LogisticData d = data_of(given);
    *result = fit(&d, answers, covariance);
    for (size_t j = 0; j < d.columns; j++)
        answers[d.columns + j] = sqrt(covariance[j * (d.columns + 1)]);
    return result->status == LOGISTIC_CONVERGED ? 2 * d.columns : 0;
}

static size_t logistic(const OracleList *given, double *answers) {
    LogisticFit f;
    size_t at = fitted(given, logistic_fit, answers, &f);
    answers[at++] = f.deviance;
    answers[at++] = f.null_deviance;
    answers[at++] = f.log_likelihood;
    answers[at++] = f.df;
    return at;
}

static size_t firth(const OracleList *given, double *answers) {
    LogisticFit f;
    return fitted(given, logistic_firth, answers, &f);
}

static size_t firth_limits(const OracleList *given, double *answers) {
    LogisticData d = data_of(given);
    StatsInterval i = logistic_firth_limits(&d, 1, 0.95);
    memcpy(answers, (double[]){i.estimate, i.lower, i.upper}, 3 * sizeof *answers);
    return 3;
}

static size_t separation(const OracleList *given, double *answers) {
    double coefficients[MOST_COLUMNS];
    LogisticData d = data_of(given);
    LogisticStatus status = logistic_fit(&d, coefficients, NULL).status;
    answers[0] = status == LOGISTIC_SEPARATED ? 1 : status == LOGISTIC_CONVERGED ? 0 : NAN;
    return 1;
}

static size_t quasi_separation(const OracleList *given, double *answers) {
    LogisticData d = data_of(given);
    LogisticFit f = logistic_fit(&d, answers, NULL);
    answers[d.columns] = f.status == LOGISTIC_SEPARATED ? f.deviance : NAN;
    return d.columns + 1;
}

static size_t c_statistic(const OracleList *given, double *answers) {
    answers[0] = calibration_c_statistic(given[0].values, given[1].values, NULL, given[0].n);
    answers[1] = calibration_brier(given[0].values, given[1].values, NULL, given[0].n);
    return 2;
}

static size_t trend_of_counts(const OracleList *given, double *answers) {
    size_t k = given[0].n;
    double p;
    TrendFit f = trend_poisson(given[0].values, given[1].values, given[2].values, k);
    StatsInterval plain = trend_ratio(&f, 0.95), wide = trend_ratio_scaled(&f, 0.95, &p);
    double all[] = {f.slope,
                    f.slope_error,
                    f.phi,
                    f.deviance,
                    f.null_deviance,
                    plain.estimate,
                    plain.lower,
                    plain.upper,
                    wide.lower,
                    wide.upper,
                    p,
                    trend_score(given[0].values, given[1].values, given[2].values, k, NULL),
                    f.intercept,
                    f.intercept_error};
    memcpy(answers, all, sizeof all);
    return sizeof all / sizeof *all;
}

static size_t trend_of_shares(const OracleList *given, double *answers) {
    TrendFit f = trend_logistic(given[0].values, given[1].values, given[2].values, given[0].n);
    memcpy(answers, (double[]){f.slope, f.slope_error, f.phi, f.deviance}, 4 * sizeof *answers);
    return 4;
}

// Deviances are differences of larger numbers. R's Firth and its limits come from numerical
// derivatives and a root to 1e-9.
const OracleEntry oracle_regression[] = {
    {"logistic", logistic, 1e-9, 1e-11},
    {"separation", separation, 0, 0},
    {"quasi_separation", quasi_separation, 1e-9, 1e-10},
    {"firth", firth, 1e-9, 1e-10},
    {"firth_limits", firth_limits, 1e-7, 1e-8},
    {"c_statistic", c_statistic, 1e-12, 1e-14},
    {"trend_poisson", trend_of_counts, 1e-9, 1e-11},
    {"trend_logistic", trend_of_shares, 1e-9, 1e-11},
    {NULL, NULL, 0, 0},
};
