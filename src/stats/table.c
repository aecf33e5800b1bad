// SPDX-License-Identifier: GPL-3.0-or-later
// Chi-square and exact tests of tables of counts.
#include "stats/table.h"
#include "stats/distribution.h"
#include "stats/proportion.h"

#include <math.h>

static const TableTest undefined = {NAN, NAN, NAN, NAN, NAN};

static double row_sum(const double *cells, size_t columns, size_t row) {
    double sum = 0;
    for (size_t c = 0; c < columns; c++)
        sum += cells[row * columns + c];
    return sum;
}

static double column_sum(const double *cells, size_t rows, size_t columns, size_t column) {
    double sum = 0;
    for (size_t r = 0; r < rows; r++)
        sum += cells[r * columns + column];
    return sum;
}

static double total(const double *cells, size_t count) {
    return row_sum(cells, count, 0);
}

// sum of (|o - e| - correction)^2 / e over the cells of filled rows and columns.
static TableTest pearson(const double *cells, size_t rows, size_t columns, double correction) {
    double n = total(cells, rows * columns), filled_rows = 0, filled_columns = 0;
    for (size_t r = 0; r < rows; r++)
        filled_rows += row_sum(cells, columns, r) > 0;
    for (size_t c = 0; c < columns; c++)
        filled_columns += column_sum(cells, rows, columns, c) > 0;
    if (filled_rows < 2 || filled_columns < 2)
        return undefined;
    TableTest test = {0, (filled_rows - 1) * (filled_columns - 1), NAN, NAN, INFINITY};
    for (size_t c = 0; c < columns; c++) {
        double in_column = column_sum(cells, rows, columns, c);
        for (size_t r = 0; r < rows && in_column > 0; r++) {
            double expected = row_sum(cells, columns, r) * in_column / n;
            if (expected == 0)
                continue;
            double distance = fabs(cells[r * columns + c] - expected);
            distance -= fmin(correction, distance);
            test.statistic += distance * distance / expected;
            test.smallest = fmin(test.smallest, expected);
        }
    }
    test.p = distribution_chisq_upper(test.statistic, test.df);
    test.cramer_v = sqrt(test.statistic / (n * (fmin(filled_rows, filled_columns) - 1)));
    return test;
}

TableTest table_chisq(const double *cells, size_t rows, size_t columns) {
    return pearson(cells, rows, columns, 0);
}

TableTest table_yates(const double cells[4]) {
    TableTest test = pearson(cells, 2, 2, 0.5);
    test.cramer_v = NAN;
    return test;
}

double table_residual(const double *cells, size_t rows, size_t columns, size_t row, size_t column) {
    double n = total(cells, rows * columns);
    double row_share = row_sum(cells, columns, row) / n;
    double column_share = column_sum(cells, rows, columns, column) / n;
    double expected = n * row_share * column_share;
    double variance = expected * (1 - row_share) * (1 - column_share);
    return variance > 0 ? (cells[row * columns + column] - expected) / sqrt(variance) : NAN;
}

TableTest table_fit(const double *counts, const double *shares, size_t k) {
    double n = total(counts, k);
    if (k < 2 || !(n > 0))
        return undefined;
    TableTest test = {0, (double)k - 1, NAN, NAN, INFINITY};
    for (size_t i = 0; i < k; i++) {
        double expected = n * (shares == NULL ? 1 / (double)k : shares[i]);
        double distance = counts[i] - expected;
        test.statistic += distance * distance / expected;
        test.smallest = fmin(test.smallest, expected);
    }
    test.p = distribution_chisq_upper(test.statistic, test.df);
    return test;
}

// ---- Fisher ----

// Odds of one more in the first cell: P(k + 1)/P(k) of the hypergeometric with these margins.
static double step_up(double k, double row, double column, double n) {
    return (row - k) * (column - k) / ((k + 1) * (n - row - column + k + 1));
}

typedef struct {
    double row, column, n, seen, weight_seen;
    double all, unlikely, above, below;
} Walk;

static void count_weight(Walk *w, double k, double weight) {
    w->all += weight;
    if (weight <= w->weight_seen * (1 + 1e-7))
        w->unlikely += weight;
    if (k >= w->seen)
        w->above += weight;
    if (k <= w->seen)
        w->below += weight;
}

// Visits every possible k, with weights relative to the mode; with `w` only filling weight_seen
// when `count` is false.
static void walk(Walk *w, double mode, double low, double high, bool count) {
    double weight = 1;
    for (double k = mode; k <= high && weight > 0; k++) {
        if (count)
            count_weight(w, k, weight);
        else if (k == w->seen)
            w->weight_seen = weight;
        weight *= step_up(k, w->row, w->column, w->n);
    }
    weight = 1;
    for (double k = mode - 1; k >= low && weight > 0; k--) {
        weight /= step_up(k, w->row, w->column, w->n);
        if (count)
            count_weight(w, k, weight);
        else if (k == w->seen)
            w->weight_seen = weight;
    }
}

TableFisher table_fisher(const double cells[4]) {
    double row = cells[0] + cells[1], column = cells[0] + cells[2], n = total(cells, 4);
    if (!(n > 0) || !isfinite(n))
        return (TableFisher){NAN, NAN, NAN, NAN};
    double low = fmax(0, row + column - n), high = fmin(row, column);
    double mode = fmax(low, fmin(high, floor((row + 1) * (column + 1) / (n + 2))));
    Walk w = {.row = row, .column = column, .n = n, .seen = cells[0]};
    walk(&w, mode, low, high, false);
    walk(&w, mode, low, high, true);
    const double midp = (2 * fmin(w.above, w.below) - w.weight_seen) / w.all;
    return (TableFisher){fmin(1, w.unlikely / w.all), fmin(1, w.above / w.all),
                         fmin(1, w.below / w.all), fmin(1, midp)};
}

// ---- trend ----

TableTrend table_trend(const double *x, const double *n, const double *scores, size_t k) {
    TableTrend none = {NAN, NAN, NAN, NAN, NAN, NAN};
    double events = total(x, k), all = total(n, k), mean = 0, levels = 0;
    for (size_t i = 0; i < k; i++) {
        mean += n[i] * (scores == NULL ? (double)i + 1 : scores[i]) / all;
        levels += n[i] > 0;
    }
    double p = events / all, product = 0, squares = 0, between = 0;
    for (size_t i = 0; i < k; i++) {
        double score = (scores == NULL ? (double)i + 1 : scores[i]) - mean;
        product += (x[i] - n[i] * p) * score;
        squares += n[i] * score * score;
        if (n[i] > 0)
            between += (x[i] - n[i] * p) * (x[i] - n[i] * p) / n[i];
    }
    if (!(all > 0) || !(p > 0 && p < 1) || !(squares > 0))
        return none;
    TableTrend t = none;
    t.statistic = product * product / (p * (1 - p) * squares);
    t.p = distribution_chisq_upper(t.statistic, 1);
    t.slope_sign = product > 0 ? 1 : product < 0 ? -1 : 0;
    if (levels > 2) {
        t.departure = between / (p * (1 - p)) - t.statistic;
        t.departure_df = levels - 2;
        t.departure_p = distribution_chisq_upper(t.departure, t.departure_df);
    }
    return t;
}

// ---- pairs ----

TablePaired table_mcnemar(double b, double c) {
    if (!(b >= 0 && c >= 0) || !isfinite(b + c))
        return (TablePaired){NAN, NAN, NAN, NAN, NAN};
    if (b + c == 0)
        return (TablePaired){NAN, NAN, NAN, NAN, 1};
    double distance = fabs(b - c), near = distance - fmin(1, distance);
    TablePaired t = {.statistic = distance * distance / (b + c),
                     .corrected = near * near / (b + c)};
    t.p = distribution_chisq_upper(t.statistic, 1);
    t.corrected_p = distribution_chisq_upper(t.corrected, 1);
    t.exact_p = proportion_test(b, b + c, 0.5);
    return t;
}
