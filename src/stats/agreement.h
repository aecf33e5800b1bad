// SPDX-License-Identifier: GPL-3.0-or-later
// Agreement of two observers who sort the same things into the same classes.
#ifndef CROSSWARD_STATS_AGREEMENT_H
#define CROSSWARD_STATS_AGREEMENT_H

#include <stddef.h>

typedef enum {
    AGREEMENT_PLAIN,    // Cohen 1960: only equal classes agree
    AGREEMENT_LINEAR,   // 1 - |i-j|/(k-1)
    AGREEMENT_QUADRATIC // 1 - ((i-j)/(k-1))^2 (Fleiss & Cohen 1973)
} AgreementWeights;

typedef struct {
    double observed; // share (weighted) of agreement, 0 to 1
    double expected; // the same by chance, from the margins
    double kappa;    // (observed - expected)/(1 - expected), NaN where expected is 1
    double se;       // standard error of kappa
    double se_null;  // standard error when the true kappa is 0
} AgreementResult;

// cells: k x k counts, cells[first * k + second], read only. Fleiss, Cohen & Everitt 1969, Psychol
// Bull 72:323-327, eqs 8 and 10. No counts: all NaN. Limits: kappa +- z se.
AgreementResult agreement_kappa(const double *cells, size_t k, AgreementWeights weights);

#endif
