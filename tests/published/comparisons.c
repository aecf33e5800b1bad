// SPDX-License-Identifier: GPL-3.0-or-later
// Published values for one rate, two proportions and two rates.
#include "published.h"
#include "stats/difference.h"
#include "stats/distribution.h"
#include "stats/proportion.h"
#include "stats/rate.h"
#include "stats/ratio.h"

#include <math.h>
#include <string.h>

// ---- one rate ----

// x=.. (O=..) and an exposure T=.. (E=.., `exposure 2`), or x/T.
static bool rate_counts(const CheckRow *row, double *x, double *exposure) {
    *exposure = 1;
    if (!check_key(row, "x", x) && !check_key(row, "O", x))
        return check_fractions(row->inputs, x, exposure, 1) == 1;
    const char *word = strstr(row->inputs, "exposure");
    if (!check_key(row, "T", exposure) && !check_key(row, "t", exposure) &&
        !check_key(row, "E", exposure) && !check_key(row, "exposure", exposure) && word != NULL)
        return check_numbers(word, exposure, 1) == 1;
    return true;
}

// `per 1000 hours` in the method or quantity: what the answer is scaled by.
static double scale_of(const CheckRow *row) {
    const char *texts[] = {row->method, row->quantity, row->inputs};
    for (int i = 0; i < 3; i++) {
        const char *per = strstr(texts[i], "per ");
        double value;
        if (per != NULL && check_numbers(per, &value, 1) == 1 && per[4] >= '0' && per[4] <= '9')
            return value;
    }
    return 1;
}

typedef StatsInterval (*RateMethod)(double x, double exposure, double confidence);

static CheckAnswer rate_by(const CheckRow *row, RateMethod method) {
    double x, exposure, scale = scale_of(row);
    if (!rate_counts(row, &x, &exposure))
        return check_not_mine();
    if (!rate_possible(x, exposure))
        return check_text("error");
    StatsInterval i = method(x, exposure, check_confidence(row));
    return check_part(row, (StatsInterval){i.estimate * scale, i.lower * scale, i.upper * scale});
}

static CheckAnswer garwood(const CheckRow *row) {
    return rate_by(row, rate_garwood);
}

static CheckAnswer rate_midp_row(const CheckRow *row) {
    return rate_by(row, rate_midp);
}

static CheckAnswer byar(const CheckRow *row) {
    if (check_says(row->method, "0.5") || check_says(row->method, "Rothman"))
        return check_not_mine();
    return rate_by(row, rate_byar);
}

static CheckAnswer fay_feuer(const CheckRow *row) {
    double y, v, w, exposure = 1;
    if (!check_key(row, "y", &y) || !check_key(row, "v", &v) || !check_key(row, "w", &w))
        return check_not_mine();
    if (!check_key(row, "T", &exposure))
        check_key(row, "exposure", &exposure);
    return check_part(row, rate_fay_feuer(y, v, w, exposure, check_confidence(row)));
}

static CheckAnswer poisson_test(const CheckRow *row) {
    double x, expected;
    if (!rate_counts(row, &x, &expected) || !check_says(row->quantity, "p"))
        return check_not_mine();
    double rate;
    if (check_key(row, "r", &rate) || check_key(row, "rate", &rate))
        expected *= rate;
    if (check_says(row->method, "mid-P"))
        return check_number(rate_test_midp(x, expected));
    if (check_says(row->quantity, "greater") || check_says(row->method, "greater"))
        return check_number(distribution_poisson_upper(x, expected));
    if (check_says(row->quantity, "less") || check_says(row->method, "less"))
        return check_number(distribution_poisson_lower(x, expected));
    bool likelihood =
        check_says(row->method, "likelihood") || check_says(row->quantity, "likelihood");
    return check_number(likelihood ? rate_test_likelihood(x, expected) : rate_test(x, expected));
}

// ---- two proportions and two rates ----

typedef struct {
    double x[2], n[2];
} Pair;

// `a/b - c/d`, `a/b vs c/d`, or `45 v 37, equal exposure`.
static bool pair_of(const CheckRow *row, Pair *pair) {
    if (check_fractions(row->inputs, pair->x, pair->n, 2) == 2)
        return true;
    pair->n[0] = pair->n[1] = 1;
    return check_says(row->inputs, "equal exposure") && check_numbers(row->inputs, pair->x, 2) == 2;
}

typedef StatsInterval (*PairMethod)(double x1, double n1, double x2, double n2, double confidence);

static CheckAnswer pair_by(const CheckRow *row, PairMethod method) {
    Pair p;
    if (!pair_of(row, &p))
        return check_not_mine();
    return check_part(row, method(p.x[0], p.n[0], p.x[1], p.n[1], check_confidence(row)));
}

static CheckAnswer newcombe(const CheckRow *row) {
    bool corrected = check_says(row->method, "CC") || check_says(row->method, "method 11");
    return pair_by(row, corrected ? difference_newcombe_corrected : difference_newcombe);
}

static CheckAnswer mee(const CheckRow *row) {
    return pair_by(row, difference_mee);
}

static CheckAnswer miettinen_nurminen(const CheckRow *row) {
    return pair_by(row, difference_miettinen_nurminen);
}

static CheckAnswer difference_wald_row(const CheckRow *row) {
    return pair_by(row, difference_wald);
}

// A row about several methods holds if they all say the same.
static CheckAnswer any_difference(const CheckRow *row) {
    CheckAnswer first = newcombe(row), second = mee(row), third = miettinen_nurminen(row);
    bool alike = isnan(first.numbers[0]) == isnan(second.numbers[0]) &&
                 isnan(first.numbers[0]) == isnan(third.numbers[0]);
    return alike ? first : check_text("the methods differ");
}

static CheckAnswer pooled_z(const CheckRow *row) {
    Pair p;
    if (!pair_of(row, &p))
        return check_not_mine();
    double z = difference_z(p.x[0], p.n[0], p.x[1], p.n[1]);
    if (strcmp(row->quantity, "z") == 0)
        return check_number(z);
    return check_number(distribution_normal_two_sided(z));
}

static CheckAnswer ratio_exact_row(const CheckRow *row) {
    Pair p;
    if (!pair_of(row, &p))
        return check_not_mine();
    double null = 1;
    const char *stated = strstr(row->method, "ratio=");
    if (stated != NULL)
        check_numbers(stated, &null, 1);
    bool midp = check_says(row->method, "mid-P");
    if (row->quantity[0] != 'p')
        return pair_by(row, midp ? ratio_midp : ratio_exact);
    double x1 = p.x[0], t1 = p.n[0], x2 = p.x[1], t2 = p.n[1];
    bool greater = check_says(row->quantity, "greater"), less = check_says(row->quantity, "less");
    if (midp)
        return check_number(greater ? ratio_test_midp_greater(x1, t1, x2, t2, null)
                            : less  ? ratio_test_midp_greater(x2, t2, x1, t1, 1 / null)
                                    : ratio_test_midp(x1, t1, x2, t2, null));
    return check_number(greater ? ratio_test_greater(x1, t1, x2, t2, null)
                        : less  ? ratio_test_less(x1, t1, x2, t2, null)
                                : ratio_test(x1, t1, x2, t2, null));
}

static CheckAnswer ratio_wald_row(const CheckRow *row) {
    return pair_by(row, ratio_wald);
}

static CheckAnswer score_z(const CheckRow *row) {
    Pair p;
    if (!pair_of(row, &p))
        return check_not_mine();
    double z = ratio_score_z(p.x[0], p.n[0], p.x[1], p.n[1]);
    if (strcmp(row->quantity, "z") == 0)
        return check_number(z);
    return check_number(check_says(row->quantity, "greater") ? distribution_normal_lower(-z)
                                                             : distribution_normal_two_sided(z));
}

static CheckAnswer rate_difference(const CheckRow *row) {
    Pair p;
    if (!pair_of(row, &p))
        return check_not_mine();
    double se, confidence = check_confidence(row);
    StatsInterval d = ratio_difference(p.x[0], p.n[0], p.x[1], p.n[1], confidence, &se);
    if (strcmp(row->quantity, "SE") == 0)
        return check_number(se);
    if (strcmp(row->quantity, "z") == 0)
        return check_number(d.estimate / se);
    if (row->quantity[0] == 'p')
        return check_number(distribution_normal_two_sided(d.estimate / se));
    return check_part(row, d);
}

const CheckMethod published_comparisons[] = {
    {"Garwood*", garwood},
    {"Byar*", byar},
    {"mid-P Poisson*", rate_midp_row},
    {"Poisson*mid-P*", rate_midp_row},
    {"Fay*Feuer*", fay_feuer},
    {"O/E exact (Garwood)*", garwood},
    {"O/E exact two-sided p*", poisson_test},
    {"O/E mid-P two-sided p*", poisson_test},
    {"exact Poisson test*", poisson_test},
    {"Poisson exact*", poisson_test},
    {"Poisson rate*", garwood},
    {"Newcombe, z, score", any_difference},
    {"Newcombe*", newcombe},
    {"Mee*", mee},
    {"Miettinen-Nurminen*", miettinen_nurminen},
    {"two-proportion*z", pooled_z},
    {"Wald*difference of*proportions*", difference_wald_row},
    {"exact conditional*", ratio_exact_row},
    {"mid-P conditional*", ratio_exact_row},
    {"quarter-on-quarter*", ratio_exact_row},
    {"ratio of two Poisson rates*", ratio_exact_row},
    {"crude rate ratio*", ratio_exact_row},
    {"Wald log CI for rate ratio*", ratio_wald_row},
    {"score z for equal rates*", score_z},
    {"Wald z for rate difference*", rate_difference},
    {"crude rate difference*", rate_difference},
    {"SE of rate difference*", rate_difference},
    {"*rate difference*", rate_difference},
    {"Wald*", difference_wald_row},
    {NULL, NULL},
};
