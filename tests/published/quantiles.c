// SPDX-License-Identifier: GPL-3.0-or-later
// Published values for quantiles and the ranks that bound them; means and standard deviations.
#include "published.h"
#include "stats/quantile.h"
#include "stats/summary.h"

#include <glib.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 2000 };

// p=.. or q=.., `90th centile`, `median`.
static double which_quantile(const CheckRow *row) {
    double p;
    if (check_key(row, "p", &p) || check_key(row, "q", &p))
        return p;
    const char *centile = strstr(row->method, "th centile");
    while (centile != NULL && centile > row->method && centile[-1] >= '0' && centile[-1] <= '9')
        centile--;
    if (centile != NULL)
        return strtod(centile, NULL) / 100;
    if (check_says(row->method, "lower quartile"))
        return 0.25;
    return check_says(row->method, "upper quartile") ? 0.75 : 0.5;
}

static CheckAnswer ranks(const CheckRow *row) {
    double n;
    if (!check_key(row, "n", &n))
        return check_not_mine();
    size_t lower, upper;
    double p = which_quantile(row);
    quantile_ranks((size_t)n, p, check_confidence(row), &lower, &upper);
    if (check_says(row->quantity, "coverage"))
        return check_number(quantile_coverage((size_t)n, p, lower, upper));
    if (!check_says(row->quantity, "rank"))
        return check_not_mine();
    size_t rank = check_says(row->quantity, "lower") ? lower : upper;
    return check_number(rank == 0 ? NAN : (double)rank);
}

// Values by name or written out, before any `p=0.9` or `q=0.9`.
static size_t sample(const CheckRow *row, double *values) {
    double n;
    size_t count = 0;
    g_autofree char *text = g_strdup(row->inputs);
    char *key = strstr(text, " p=");
    key = key != NULL ? key : strstr(text, " q=");
    if (key != NULL)
        *key = '\0';
    const char *stated = strstr(text, "value ");
    if (stated != NULL)
        count = check_numbers(stated, values, MOST);
    else if (!check_key(row, "n", &n))
        count = check_values(text, values, MOST);
    quantile_sort(values, count);
    return count;
}

static CheckAnswer order_statistics(const CheckRow *row) {
    double values[MOST], p;
    size_t n = sample(row, values);
    if (n == 0)
        return check_not_mine();
    p = which_quantile(row);
    return check_part(row, quantile_interval(values, n, p, check_confidence(row)));
}

// An interval of order statistics holds for any distribution: with ties its coverage can only
// grow. Enumerated for the median of 9 values of 1 and 2, equally likely.
static CheckAnswer tied_coverage(const CheckRow *row) {
    if (!check_says(row->inputs, "tied"))
        return check_not_mine();
    size_t n = 9;
    double confidence = check_confidence(row), covered = 0;
    for (unsigned pattern = 0; pattern < 1u << n; pattern++) {
        double values[9];
        for (size_t i = 0; i < n; i++)
            values[i] = 1 + (pattern >> i & 1);
        quantile_sort(values, n);
        StatsInterval limits = quantile_interval(values, n, 0.5, confidence);
        covered += limits.lower <= 1 && limits.upper >= 1; // the lower median of the distribution
    }
    return check_text(covered / (1u << n) >= confidence ? ">= nominal" : "too low");
}

static CheckAnswer sample_quantile(const CheckRow *row) {
    double values[MOST], p = which_quantile(row);
    size_t n = sample(row, values);
    const char *type = strstr(row->method, "type "), *fan = strstr(row->method, "Fan ");
    const char digit = type != NULL ? type[5] : fan != NULL ? fan[4] : '2';
    if (digit >= '4' && digit <= '9')
        return check_number(quantile_linear(values, n, p, (unsigned)(digit - '0')));
    if (digit == '1')
        return check_number(quantile_hf1(values, n, p));
    return digit == '3' ? check_not_mine() : check_number(quantile_hf2(values, n, p));
}

// `NAME: FIRST then COUNT x (A,B)`: the first value and then A, B (shifted to it unless near),
// COUNT times each.
static size_t expanded(const CheckRow *row, double *values) {
    double parts[4];
    const char *colon = strchr(row->inputs, ':');
    if (colon == NULL || !check_says(colon, " x (") || check_numbers(colon, parts, 4) != 4)
        return 0;
    size_t count = 0;
    values[count++] = parts[0];
    for (int i = 0; i < (int)parts[1]; i++)
        for (int k = 2; k < 4; k++)
            values[count++] = parts[k] + (fabs(parts[k] - parts[0]) < 1 ? 0 : floor(parts[0]));
    return count;
}

static CheckAnswer moments(const CheckRow *row) {
    double values[MOST], n;
    size_t count = expanded(row, values);
    if (count == 0 && check_key(row, "n", &n) && n <= 1)
        count = (size_t)n;
    else if (count == 0)
        count = check_values(row->inputs, values, MOST);
    if (count == 0)
        return check_not_mine();
    if (check_says(row->quantity, "mean"))
        return check_number(summary_mean(values, count));
    if (check_says(row->method, "autocorrelation") || check_says(row->quantity, "autocorrelation"))
        return check_number(summary_autocorrelation(values, count));
    return check_number(summary_sd(values, count));
}

const CheckMethod published_quantiles[] = {
    {"order-statistic*", tied_coverage},
    {"order-statistic*", ranks},
    {"order-statistic*", order_statistics},
    {"median 95% CI", ranks},
    {"conservative*CI*", order_statistics},
    {"sample quantile*", sample_quantile},
    {"sample median*", sample_quantile},
    {"quantile", sample_quantile},
    {"sample SD*", moments},
    {"sample mean*", moments},
    {"*autocorrelation*", moments},
    {"SD, XmR, dispersion", moments},
    {NULL, NULL},
};
