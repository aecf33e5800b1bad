// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of counts: chi-square tests, Cramer's V, residuals, Fisher, trend over ordered levels,
// paired counts.
#ifndef CROSSWARD_STATS_TABLE_H
#define CROSSWARD_STATS_TABLE_H

#include <stdbool.h>
#include <stddef.h>

// Cells are counts >= 0, row by row: cells[row * columns + column]. They are read only.

typedef struct {
    double statistic; // X2
    double df;
    double p;
    double cramer_v; // sqrt(X2 / (N (min(rows, columns) - 1))), 0 to 1
    double smallest; // smallest expected count: below 5 the chi-square p is not to be trusted
} TableTest;

// Pearson's chi-square of independence, after empty rows and columns are dropped; all NaN if fewer
// than two of either are left. Agresti 2002, Categorical Data Analysis, 3.2.1; V: Cramer 1946,
// p. 282.
TableTest table_chisq(const double *cells, size_t rows, size_t columns);

// The same for 2 x 2 with Yates' correction, no larger than |observed - expected|. V is NaN.
TableTest table_yates(const double cells[4]);

// (observed - expected)/sqrt(expected (1 - row share)(1 - column share)); Haberman 1973, Agresti
// 2002, 3.3.1. row and column count from 0. NaN if expected is 0 or a share is 1.
double table_residual(const double *cells, size_t rows, size_t columns, size_t row, size_t column);

// Chi-square of k counts against shares that sum to 1 (NULL: equal). V is NaN. All NaN for no
// counts or k < 2.
TableTest table_fit(const double *counts, const double *shares, size_t k);

// Fisher's exact test of 2 x 2: two-sided by minimum likelihood (relative slack 1e-7, as R's
// fisher.test), and one-sided for a larger and a smaller first cell. An empty margin gives 1; no
// counts at all NaN. Agresti 2002, 3.5.
typedef struct {
    double two_sided, greater, less;
    double midp; // two-sided: 2 min(P(X < x), P(X > x)) + P(X = x), at most 1
} TableFisher;
TableFisher table_fisher(const double cells[4]);

// Cochran-Armitage trend of x[i] of n[i] over scores (NULL: 1..k): statistic with 1 df, and the
// departure from it, total chi-square less trend with k - 2 df. Armitage 1955, Biometrics
// 11:375-386; Agresti 2002, 5.3.5. NaN without events, with nothing but events, or one level.
typedef struct {
    double statistic, p, slope_sign;
    double departure, departure_df, departure_p;
} TableTrend;
TableTrend table_trend(const double *x, const double *n, const double *scores, size_t k);

// McNemar's test of paired counts from the discordant pairs b and c: chi-square without and with
// continuity correction, and exact binomial p (1 when b + c = 0, where the others are NaN).
// McNemar 1947, Psychometrika 12:153-157; Agresti 2002, 10.1.
typedef struct {
    double statistic, p, corrected, corrected_p, exact_p;
} TablePaired;
TablePaired table_mcnemar(double b, double c);

#endif
