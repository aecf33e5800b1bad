// SPDX-License-Identifier: GPL-3.0-or-later
// Cohen's kappa, plain and weighted, with large-sample standard errors.
#include "stats/agreement.h"

#include <math.h>

typedef struct {
    const double *cells;
    size_t k;
    AgreementWeights weights;
    double n;
} Square;

static double weight(const Square *s, size_t i, size_t j) {
    if (i == j)
        return 1;
    if (s->weights == AGREEMENT_PLAIN)
        return 0;
    double apart = fabs((double)i - (double)j) / ((double)s->k - 1);
    return s->weights == AGREEMENT_LINEAR ? 1 - apart : 1 - apart * apart;
}

static double row_share(const Square *s, size_t i) {
    double sum = 0;
    for (size_t j = 0; j < s->k; j++)
        sum += s->cells[i * s->k + j];
    return sum / s->n;
}

static double column_share(const Square *s, size_t j) {
    double sum = 0;
    for (size_t i = 0; i < s->k; i++)
        sum += s->cells[i * s->k + j];
    return sum / s->n;
}

// Mean weight of row i, the second observer's margin taken by chance; and of column j.
static double row_weight(const Square *s, size_t i) {
    double sum = 0;
    for (size_t j = 0; j < s->k; j++)
        sum += weight(s, i, j) * column_share(s, j);
    return sum;
}

static double column_weight(const Square *s, size_t j) {
    double sum = 0;
    for (size_t i = 0; i < s->k; i++)
        sum += weight(s, i, j) * row_share(s, i);
    return sum;
}

AgreementResult agreement_kappa(const double *cells, size_t k, AgreementWeights weights) {
    Square s = {cells, k, weights, 0};
    for (size_t i = 0; i < k * k; i++)
        s.n += cells[i];
    AgreementResult r = {NAN, NAN, NAN, NAN, NAN};
    if (!(s.n > 0) || !isfinite(s.n))
        return r;
    r.observed = r.expected = 0;
    for (size_t i = 0; i < k; i++)
        for (size_t j = 0; j < k; j++) {
            r.observed += weight(&s, i, j) * cells[i * k + j];
            r.expected += weight(&s, i, j) * row_share(&s, i) * column_share(&s, j);
        }
    r.observed /= s.n; // at the end, so that full agreement is 1 and has no error
    if (!(1 - r.expected > 1e-14))
        return r;
    r.kappa = (r.observed - r.expected) / (1 - r.expected);
    double seen = 0, chance = 0;
    for (size_t i = 0; i < k; i++)
        for (size_t j = 0; j < k; j++) {
            double w = weight(&s, i, j), margins = row_weight(&s, i) + column_weight(&s, j);
            double part = w - margins * (1 - r.kappa);
            seen += cells[i * k + j] * part * part;
            chance += row_share(&s, i) * column_share(&s, j) * (w - margins) * (w - margins);
        }
    double shift = r.kappa - r.expected * (1 - r.kappa);
    double scale = sqrt(s.n) * (1 - r.expected);
    const double rest = seen / s.n - shift * shift;
    r.se = rest > 1e-13 * seen / s.n ? sqrt(rest) / scale : 0; // less is rounding
    r.se_null = sqrt(fmax(0, chance - r.expected * r.expected)) / scale;
    return r;
}
