// SPDX-License-Identifier: GPL-3.0-or-later
// Published values for tables of counts, trends over levels, mixes and agreement.
#include "published.h"
#include "stats/agreement.h"
#include "stats/distribution.h"
#include "stats/mix.h"
#include "stats/proportion.h"
#include "stats/table.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { MOST = 256 };

typedef struct {
    double cells[MOST];
    size_t rows, columns;
} Counts;

// A table by name, written out, as fractions x/n (events and the rest), or an edge in words.
static bool counts_of(const CheckRow *row, Counts *t) {
    double x[MOST], n[MOST];
    size_t named = check_says(row->inputs, "party") || check_says(row->inputs, "HairEyeColor")
                       ? check_values(row->inputs, t->cells, MOST)
                       : 0;
    if (named > 0) {
        t->rows = named == 6 ? 2 : 4;
        t->columns = named / t->rows;
        return true;
    }
    if (check_says(row->inputs, "expected count < 5")) {
        memcpy(t->cells, (double[]){1, 2, 3, 4}, 4 * sizeof(double));
        t->rows = t->columns = 2;
        return true;
    }
    size_t levels = check_fractions(row->inputs, x, n, MOST / 2);
    for (size_t i = 0; i < levels; i++) {
        t->cells[2 * i] = x[i];
        t->cells[2 * i + 1] = n[i] - x[i];
    }
    t->rows = levels;
    t->columns = 2;
    return levels > 0 || check_table(row->inputs, t->cells, MOST, &t->rows, &t->columns);
}

static CheckAnswer test_part(const CheckRow *row, const TableTest *t) {
    if (check_says(row->quantity, "flag"))
        return check_text(t->smallest < 5 ? "warn" : "none");
    if (strcmp(row->quantity, "df") == 0)
        return check_number(t->df);
    if (strcmp(row->quantity, "V") == 0)
        return check_number(t->cramer_v);
    return check_number(row->quantity[0] == 'p' ? t->p : t->statistic);
}

static CheckAnswer chi_square(const CheckRow *row) {
    Counts t;
    if (!counts_of(row, &t))
        return check_not_mine();
    bool yates = check_says(row->method, "Yates");
    if (yates && (t.rows != 2 || t.columns != 2))
        return check_not_mine();
    TableTest test = yates ? table_yates(t.cells) : table_chisq(t.cells, t.rows, t.columns);
    return test_part(row, &test);
}

static CheckAnswer residual(const CheckRow *row) {
    Counts t;
    double at[2];
    const char *cell = strstr(row->inputs, "cell");
    if (!counts_of(row, &t) || cell == NULL || check_numbers(cell, at, 2) != 2)
        return check_not_mine();
    return check_number(
        table_residual(t.cells, t.rows, t.columns, (size_t)at[0] - 1, (size_t)at[1] - 1));
}

static CheckAnswer goodness_of_fit(const CheckRow *row) {
    double counts[MOST];
    size_t k = check_numbers(row->inputs, counts, MOST);
    if (k == 0 || !check_says(row->inputs, "equal"))
        return check_not_mine();
    TableTest test = table_fit(counts, NULL, k);
    return test_part(row, &test);
}

static CheckAnswer fisher(const CheckRow *row) {
    Counts t;
    if (!counts_of(row, &t) || t.rows != 2 || t.columns != 2)
        return check_not_mine();
    TableFisher f = table_fisher(t.cells);
    if (check_says(row->method, "mid-P"))
        return check_number(f.midp);
    if (check_says(row->quantity, "greater"))
        return check_number(f.greater);
    return check_number(check_says(row->quantity, "less") ? f.less : f.two_sided);
}

// x/n per level; scores 1..k, or those of the malformation data when the method says unequal.
static CheckAnswer cochran_armitage(const CheckRow *row) {
    double x[MOST] = {0, 0}, n[MOST], scores[MOST];
    size_t k = check_fractions(row->inputs, x, n, MOST);
    if (check_says(row->inputs, "smokers")) {
        k = check_sample("smokers", x, MOST) / 2;
        memcpy(n, x + k, k * sizeof *n);
    } else if (check_says(row->inputs, "one level")) {
        x[0] = 3;
        n[0] = 10;
        k = 1;
    }
    const char *stated = strstr(row->inputs, "scores");
    size_t given = stated == NULL ? 0 : check_numbers(stated, scores, MOST);
    if (given == 0 && check_says(row->method, "unequal"))
        given = check_sample("malformation scores", scores, MOST);
    if (k == 0 || (given > 0 && given != k))
        return check_not_mine();
    TableTrend t = table_trend(x, n, given > 0 ? scores : NULL, k);
    if (check_says(row->method, "departure"))
        return check_number(row->quantity[0] == 'p' ? t.departure_p : t.departure);
    return check_number(row->quantity[0] == 'p' ? t.p : t.statistic);
}

static CheckAnswer mcnemar(const CheckRow *row) {
    Counts t;
    double b, c, pairs[2];
    if (check_says(row->inputs, "no discordant")) {
        b = c = 0;
    } else if (check_says(row->inputs, "discordant")) {
        if (check_numbers(row->inputs, pairs, 2) != 2)
            return check_not_mine();
        b = pairs[0];
        c = pairs[1];
    } else if (counts_of(row, &t) && t.rows == 2 && t.columns == 2) {
        b = t.cells[1];
        c = t.cells[2];
    } else {
        return check_not_mine();
    }
    TablePaired m = table_mcnemar(b, c);
    bool exact = check_says(row->method, "exact") || strcmp(row->method, "McNemar") == 0;
    bool corrected = check_says(row->method, "with continuity") || check_says(row->method, "CC");
    if (row->quantity[0] != 'p')
        return check_number(corrected ? m.corrected : m.statistic);
    return check_number(exact ? m.exact_p : corrected ? m.corrected_p : m.p);
}

// ---- mixes ----

static CheckAnswer goodman(const CheckRow *row) {
    double numbers[MOST], n = 0, cell = 1, confidence = check_confidence(row);
    const char *which = strstr(row->inputs, "cell ");
    if (check_says(row->inputs, "one cell"))
        return check_number(mix_goodman(7, 7, 1, confidence).estimate);
    if (check_says(row->inputs, "a cell with 0"))
        return check_part(row, mix_goodman(0, 10, 3, confidence));
    if (check_key(row, "N", &n) && n == 0)
        return check_number(mix_goodman(0, 0, 3, confidence).estimate);
    size_t k = check_numbers(row->inputs, numbers, MOST);
    if (which != NULL && check_numbers(which, &cell, 1) == 1)
        k--;
    if (k < 2 || cell < 1 || (size_t)cell > k)
        return check_not_mine();
    for (size_t i = 0; i < k; i++)
        n += numbers[i];
    StatsInterval share = mix_goodman(numbers[(size_t)cell - 1], n, (int)k, confidence);
    if (check_says(row->expected, "Wilson at")) { // the row states what it must equal in words
        StatsInterval wilson = proportion_wilson(numbers[0], n, 1 - (1 - confidence) / 2);
        char text[64];
        snprintf(text, sizeof text, "Wilson at z(1-%g/4)", 1 - confidence);
        bool equal =
            fabs(share.lower - wilson.lower) < 1e-15 && fabs(share.upper - wilson.upper) < 1e-15;
        return check_text(equal ? text : "another interval");
    }
    return check_part(row, share);
}

// ---- agreement ----

static AgreementWeights weights_of(const CheckRow *row) {
    if (check_says(row->method, "quadratic"))
        return AGREEMENT_QUADRATIC;
    bool linear = check_says(row->method, "linear") || check_says(row->method, "weighted");
    return linear ? AGREEMENT_LINEAR : AGREEMENT_PLAIN;
}

static CheckAnswer kappa(const CheckRow *row) {
    Counts t = {.rows = 2, .columns = 2};
    bool empty = check_says(row->inputs, "empty table");
    memset(t.cells, 0, 4 * sizeof(double));
    const char *table = strpbrk(row->inputs, "0123456789(");
    if (!empty && (table == NULL || !check_table(table, t.cells, MOST, &t.rows, &t.columns)))
        return check_not_mine();
    if (t.rows != t.columns)
        return check_not_mine();
    AgreementResult r = agreement_kappa(t.cells, t.rows, weights_of(row));
    double z = distribution_normal_critical(check_confidence(row));
    if (check_says(row->quantity, "ASE0"))
        return check_number(r.se_null);
    if (check_says(row->quantity, "SE"))
        return check_number(r.se);
    if (strcmp(row->quantity, "po") == 0)
        return check_number(r.observed);
    if (strcmp(row->quantity, "pe") == 0)
        return check_number(r.expected);
    if (check_says(row->quantity, "pabak"))
        return check_number(2 * r.observed - 1);
    return check_part(row, (StatsInterval){r.kappa, r.kappa - z * r.se, r.kappa + z * r.se});
}

const CheckMethod published_tables[] = {
    {"Pearson chi-square*", chi_square},
    {"Cramer's V*", chi_square},
    {"2x2 chi-square*", chi_square},
    {"Yates*", chi_square},
    {"k-sample equality*", chi_square},
    {"standardised*residual*", residual},
    {"chi-square goodness*", goodness_of_fit},
    {"Fisher exact*", fisher},
    {"Cochran-Armitage*", cochran_armitage},
    {"departure from trend*", cochran_armitage},
    {"McNemar*", mcnemar},
    {"Goodman*", goodman},
    {"simultaneous multinomial", goodman},
    {"*kappa*", kappa},
    {"observed agreement*", kappa},
    {"expected agreement*", kappa},
    {"PABAK*", kappa},
    {NULL, NULL},
};
