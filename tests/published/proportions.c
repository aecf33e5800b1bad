// SPDX-License-Identifier: GPL-3.0-or-later
// Published values for one proportion, one rate, and bounds under missing outcomes.
#include "published.h"
#include "stats/proportion.h"
#include "stats/rate.h"

#include <math.h>

typedef StatsInterval (*IntervalMethod)(double x, double n, double confidence);

// x=.. n=.. or x/n; false if the row gives neither.
static bool counts(const CheckRow *row, double *x, double *n) {
    if (check_key(row, "x", x) && check_key(row, "n", n))
        return true;
    return check_fractions(row->inputs, x, n, 1) == 1;
}

static CheckAnswer proportion_by(const CheckRow *row, IntervalMethod method) {
    double x, n, above[2], below[2];
    if (!counts(row, &x, &n) || check_fractions(row->inputs, above, below, 2) == 2)
        return check_not_mine();
    if (!proportion_possible(x, n))
        return check_text("error");
    return check_part(row, method(x, n, check_confidence(row)));
}

static CheckAnswer wilson(const CheckRow *row) {
    bool corrected = check_says(row->method, "correct") || check_says(row->method, "CC");
    return proportion_by(row, corrected ? proportion_wilson_corrected : proportion_wilson);
}

static CheckAnswer clopper_pearson(const CheckRow *row) {
    return proportion_by(row, proportion_clopper_pearson);
}

static CheckAnswer midp(const CheckRow *row) {
    return proportion_by(row, proportion_midp);
}

static CheckAnswer wald(const CheckRow *row) {
    return proportion_by(row, proportion_wald);
}

// A row about several methods holds if they all say the same.
static CheckAnswer any_interval(const CheckRow *row) {
    CheckAnswer first = wilson(row);
    CheckFunction others[] = {clopper_pearson, midp};
    for (int i = 0; i < 2; i++) {
        CheckAnswer other = others[i](row);
        if (first.kind == CHECK_NUMBERS && other.numbers[0] != first.numbers[0] &&
            !(isnan(other.numbers[0]) && isnan(first.numbers[0])))
            return check_text("the methods differ");
    }
    return first;
}

static CheckAnswer binomial_test(const CheckRow *row) {
    double x, n, p0;
    if (!counts(row, &x, &n) || !(check_key(row, "p0", &p0) || check_key(row, "p", &p0)))
        return check_not_mine();
    if (check_says(row->method, "mid-P"))
        return check_number(proportion_test_midp(x, n, p0));
    if (check_says(row->quantity, "greater") || check_says(row->method, "greater"))
        return check_number(proportion_test_greater(x, n, p0));
    if (check_says(row->quantity, "less") || check_says(row->method, "less"))
        return check_number(proportion_test_less(x, n, p0));
    return check_number(proportion_test(x, n, p0));
}

const CheckMethod published_proportions[] = {
    {"exact binomial test*", binomial_test},
    {"single proportion*", any_interval},
    {"Wilson / *", any_interval},
    {"Wilson*", wilson},
    {"Clopper-Pearson*", clopper_pearson},
    {"mid-P exact*", midp},
    {"mid-P", midp},
    {"mid-P interval*", midp},
    {"Wald interval*", wald},
    {"Wald", wald},
    {NULL, NULL},
};
