// SPDX-License-Identifier: GPL-3.0-or-later
// Published values for adjusted p-values, two-list counts, bounds, and sums of unequal chances.
#include "published.h"
#include "stats/capture.h"
#include "stats/multiple.h"
#include "stats/poisson_binomial.h"
#include "stats/proportion.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 400 };

// ---- multiplicity ----

static CheckAnswer all_of(const double *values, size_t n) {
    CheckAnswer answer = {.kind = CHECK_NUMBERS, .count = (int)n};
    memcpy(answer.numbers, values, n * sizeof *values);
    return answer;
}

// `p(3)=0.0019` is the third of the fifteen; `m=1 p=0.03` one p-value; else a list.
static size_t p_values(const CheckRow *row, double *p) {
    double m, only;
    if (check_key(row, "m", &m)) {
        p[0] = check_key(row, "p", &only) ? only : NAN;
        return (size_t)m;
    }
    if (strncmp(row->inputs, "p(", 2) == 0)
        return check_sample("15 p-values", p, MOST);
    return check_values(row->inputs, p, MOST);
}

static CheckAnswer adjusted(const CheckRow *row) {
    double p[MOST], bh[MOST], holm[MOST], wanted, level = 0.05;
    size_t n = p_values(row, p), rejected = 0;
    multiple_benjamini_hochberg(p, n, bh);
    multiple_holm(p, n, holm);
    const double *q = check_says(row->method, "BH") ? bh : holm;
    const char *of = strstr(row->quantity, " of "), *at = strstr(row->method, " at ");
    if (check_says(row->quantity, "count")) {
        if (at != NULL)
            check_numbers(at, &level, 1);
        for (size_t i = 0; i < n; i++)
            rejected += q[i] <= level;
        return check_number((double)rejected);
    }
    if (strncmp(row->inputs, "p(", 2) == 0)
        return check_number(q[strtoul(row->inputs + 2, NULL, 10) - 1]);
    if (of != NULL && check_numbers(of, &wanted, 1) == 1)
        for (size_t i = 0; i < n; i++)
            if (p[i] == wanted)
                return check_number(q[i]);
    if (check_says(row->method, "BH / Holm") && n > 0 && bh[0] != holm[0])
        return check_text("the methods differ");
    return all_of(q, n);
}

// ---- two lists ----

static bool lists(const CheckRow *row, double *n1, double *n2, double *both) {
    if (check_says(row->inputs, "m=n2")) {
        *n1 = 20;
        *n2 = *both = 8;
        return true;
    }
    if (!check_key(row, "n1", n1))
        return false;
    if (!check_key(row, "n2", n2))
        *n2 = 0;
    if (!check_key(row, "m", both))
        *both = 0;
    return true;
}

// At least n1 + n2 - m, over all small lists.
static CheckAnswer chapman_floor(const CheckRow *row) {
    if (strcmp(row->inputs, "any") != 0)
        return check_not_mine();
    for (double n1 = 1; n1 <= 30; n1++)
        for (double n2 = 1; n2 <= 30; n2++)
            for (double both = 0; both <= fmin(n1, n2); both++)
                if (capture_chapman(n1, n2, both) < n1 + n2 - both - 1e-9)
                    return check_text("below n1+n2-m");
    return check_text(">= n1+n2-m");
}

static CheckAnswer capture(const CheckRow *row) {
    double n1, n2, both, confidence = check_confidence(row);
    if (!lists(row, &n1, &n2, &both))
        return check_not_mine();
    if (check_says(row->quantity, "Var"))
        return check_number(capture_variance(n1, n2, both));
    if (check_says(row->quantity, "SE"))
        return check_number(sqrt(capture_variance(n1, n2, both)));
    if (check_says(row->method, "ascertainment")) {
        double total = capture_chapman(n1, n2, both);
        if (check_says(row->method, "list 1"))
            return check_number(n1 / total);
        if (check_says(row->method, "list 2"))
            return check_number(n2 / total);
        return check_part(row, capture_ascertainment(n1, n2, both, confidence));
    }
    if (check_says(row->method, "Lincoln"))
        return check_number(capture_lincoln_petersen(n1, n2, both));
    if (check_says(row->method, "log-normal") || check_says(row->method, "lognormal"))
        return check_part(row, capture_log_normal(n1, n2, both, confidence));
    if (check_says(row->method, "logit"))
        return check_part(row, capture_logit(n1, n2, both, confidence));
    return check_part(row, capture_wald(n1, n2, both, confidence));
}

// ---- missing outcomes ----

// `21 of 64 found, 137 in all`, `9 events, 300 known, 50 unknown`, or the edges in words.
static bool outcomes(const CheckRow *row, double *x, double *known, double *missing) {
    double v[3] = {3, 10, 0};
    if (check_says(row->inputs, "all missing"))
        memcpy(v, (double[]){0, 0, 10}, sizeof v);
    else if (check_says(row->inputs, "homeless") && check_sample("homeless", v, 3) == 3)
        v[2] -= v[1];
    else if (check_says(row->inputs, "in all") && check_numbers(row->inputs, v, 3) == 3)
        v[2] -= v[1];
    else if (!check_says(row->inputs, "no missing") && !check_says(row->inputs, "Delta=0") &&
             !(check_says(row->inputs, "unknown") && check_numbers(row->inputs, v, 3) == 3))
        return false;
    *x = v[0];
    *known = v[1];
    *missing = v[2];
    return true;
}

static CheckAnswer bounds(const CheckRow *row) {
    double x, known, missing, critical, confidence = check_confidence(row);
    if (!outcomes(row, &x, &known, &missing))
        return check_not_mine();
    if (check_says(row->method, "Imbens")) {
        StatsInterval i = proportion_imbens_manski(x, known, missing, confidence, &critical);
        return strcmp(row->quantity, "C") == 0 ? check_number(critical) : check_part(row, i);
    }
    if (check_says(row->method, "Wilson"))
        return check_part(row, proportion_bounds_wilson(x, known, missing, confidence));
    StatsInterval b = proportion_bounds(x, known, missing);
    if (strcmp(row->quantity, "upper - lower") == 0)
        return check_number(b.upper - b.lower);
    return check_part(row, b);
}

// ---- Poisson-binomial ----

static CheckAnswer poisson_binomial(const CheckRow *row) {
    double p[MOST], points[MOST + 1], k;
    const char *list = strstr(row->inputs, "p=");
    size_t n = check_numbers(list == NULL ? row->inputs : list + 2, p, MOST);
    if (check_key(row, "k", &k) && n > 0) {
        if (list == NULL || strstr(list, "k=") != NULL)
            n--; // the k itself
    } else {
        const char *equals = strchr(row->quantity, '=');
        if (equals == NULL || check_numbers(equals, &k, 1) != 1)
            return check_not_mine();
    }
    if (!poisson_binomial_points(p, n, points))
        return check_not_mine();
    if (check_says(row->quantity, "<="))
        return check_number(poisson_binomial_lower(points, n, (size_t)k));
    if (check_says(row->quantity, ">="))
        return check_number(poisson_binomial_upper(points, n, (size_t)k));
    return check_number(points[(size_t)k]);
}

const CheckMethod published_lists[] = {
    {"BH adjusted*", adjusted},
    {"BH rejections*", adjusted},
    {"BH / Holm", adjusted},
    {"BH", adjusted},
    {"Holm adjusted*", adjusted},
    {"Holm rejections*", adjusted},
    {"Holm", adjusted},
    {"Chapman", chapman_floor},
    {"Chapman*", capture},
    {"Lincoln-Petersen*", capture},
    {"Seber variance*", capture},
    {"Wald 95% CI", capture},
    {"log-normal*CI*", capture},
    {"transformed-logit*", capture},
    {"ascertainment*", capture},
    {"worst-case*", bounds},
    {"Imbens-Manski*", bounds},
    {"outer Wilson*", bounds},
    {"rate bounds*", bounds},
    {"proportion bounds*", bounds},
    {"Poisson-binomial*", poisson_binomial},
    {NULL, NULL},
};
