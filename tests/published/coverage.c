// SPDX-License-Identifier: GPL-3.0-or-later
// What intervals really cover, by enumeration of every outcome.
#include "published.h"
#include "stats/capture.h"
#include "stats/difference.h"
#include "stats/distribution.h"
#include "stats/mix.h"
#include "stats/multiple.h"
#include "stats/proportion.h"
#include "stats/rate.h"
#include "stats/ratio.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

typedef StatsInterval (*IntervalMethod)(double x, double n, double confidence);

static bool holds(StatsInterval i, double value) {
    return i.lower <= value && value <= i.upper;
}

// ---- one proportion ----

enum { MOST_N = 500 };

static IntervalMethod method_of(const CheckRow *row) {
    if (strncasecmp(row->method, "wilson", 6) == 0)
        return proportion_wilson;
    if (strncasecmp(row->method, "cp ", 3) == 0 || check_says(row->method, "Clopper"))
        return proportion_clopper_pearson;
    return strncasecmp(row->method, "midp", 4) == 0 ? proportion_midp : proportion_wald;
}

static double proportion_covers(const StatsInterval *limits, int n, double p) {
    double sum = 0;
    for (int x = 0; x <= n; x++)
        if (holds(limits[x], p))
            sum += distribution_binomial_point(x, n, p);
    return sum;
}

// The integral over p of each outcome's probability between its limits.
static double mean_coverage(const StatsInterval *limits, int n) {
    double sum = 0;
    for (int x = 0; x <= n; x++) {
        double from = fmax(0, limits[x].lower), to = fmin(1, limits[x].upper);
        sum += distribution_beta_lower(to, x + 1, n - x + 1) -
               distribution_beta_lower(from, x + 1, n - x + 1);
    }
    return sum / (n + 1);
}

// Between two neighbouring limits coverage is the probability of a run of outcomes, which has no
// inner minimum: the least value lies just beside a limit.
static double least_coverage(const StatsInterval *limits, int n) {
    const double beside = 1e-9;
    double least =
        fmin(proportion_covers(limits, n, beside), proportion_covers(limits, n, 1 - beside));
    for (int x = 0; x <= n; x++) {
        double at[] = {limits[x].lower - beside, limits[x].lower + beside, limits[x].upper - beside,
                       limits[x].upper + beside};
        for (int i = 0; i < 4; i++)
            if (at[i] > 0 && at[i] < 1)
                least = fmin(least, proportion_covers(limits, n, at[i]));
    }
    return least;
}

static CheckAnswer proportion_coverage(const CheckRow *row) {
    double size, p, confidence = check_confidence(row);
    if (!check_key(row, "n", &size) || size > MOST_N)
        return check_not_mine();
    StatsInterval limits[MOST_N + 1];
    int n = (int)size;
    for (int x = 0; x <= n; x++)
        limits[x] = method_of(row)(x, n, confidence);
    if (check_says(row->method, "mean"))
        return check_number(mean_coverage(limits, n));
    if (check_says(row->method, "minimum"))
        return check_number(least_coverage(limits, n));
    return check_key(row, "p", &p) ? check_number(proportion_covers(limits, n, p))
                                   : check_not_mine();
}

// ---- rates ----

static CheckAnswer garwood_coverage(const CheckRow *row) {
    double mean, sum = 0, confidence = check_confidence(row);
    if (check_numbers(row->inputs, &mean, 1) != 1)
        return check_not_mine();
    for (double x = 0; x < mean + 40 * sqrt(mean + 1); x++)
        if (holds(rate_garwood(x, 1, confidence), mean))
            sum += distribution_poisson_point(x, mean);
    return check_number(sum);
}

static CheckAnswer ratio_coverage(const CheckRow *row) {
    double mean[2], sum = 0, confidence = check_confidence(row);
    if (check_numbers(row->inputs, mean, 2) != 2)
        return check_not_mine();
    for (double a = 0; a < mean[0] + 12 * sqrt(mean[0] + 1); a++)
        for (double b = 0; b < mean[1] + 12 * sqrt(mean[1] + 1); b++)
            if (holds(ratio_exact(a, 1, b, 1, confidence), mean[0] / mean[1]))
                sum +=
                    distribution_poisson_point(a, mean[0]) * distribution_poisson_point(b, mean[1]);
    return check_number(sum);
}

// ---- two proportions ----

static CheckAnswer newcombe_coverage(const CheckRow *row) {
    double n1, n2, p1, p2, sum = 0, confidence = check_confidence(row);
    if (!check_key(row, "n1", &n1) || !check_key(row, "n2", &n2) || !check_key(row, "p1", &p1) ||
        !check_key(row, "p2", &p2))
        return check_not_mine();
    for (double a = 0; a <= n1; a++)
        for (double b = 0; b <= n2; b++)
            if (holds(difference_newcombe(a, n1, b, n2, confidence), p1 - p2))
                sum +=
                    distribution_binomial_point(a, n1, p1) * distribution_binomial_point(b, n2, p2);
    return check_number(sum);
}

// ---- mixes ----

enum { MOST_CLASSES = 8 };

typedef struct {
    double share[MOST_CLASSES], confidence;
    int k, n;
} Mix;

// Probability that every class from `from` on is covered, `left` of n being still to place among
// them: what remains is multinomial, so one binomial at a time.
static double mix_covers(const Mix *mix, int from, int left, double share_left) {
    if (from == mix->k - 1)
        return holds(mix_goodman(left, mix->n, mix->k, mix->confidence), mix->share[from]) ? 1 : 0;
    double sum = 0, p = fmin(1, mix->share[from] / share_left);
    for (int x = 0; x <= left; x++)
        if (holds(mix_goodman(x, mix->n, mix->k, mix->confidence), mix->share[from]))
            sum += distribution_binomial_point(x, left, p) *
                   mix_covers(mix, from + 1, left - x, share_left - mix->share[from]);
    return sum;
}

static CheckAnswer goodman_coverage(const CheckRow *row) {
    double k, n;
    const char *shares = strstr(row->inputs, "p=");
    Mix mix = {.confidence = check_confidence(row)};
    if (!check_key(row, "k", &k) || !check_key(row, "n", &n) || shares == NULL ||
        k > MOST_CLASSES || check_numbers(shares + 2, mix.share, (size_t)k) != (size_t)k)
        return check_not_mine();
    mix.k = (int)k;
    mix.n = (int)n;
    return check_number(mix_covers(&mix, 0, mix.n, 1));
}

// ---- two lists ----

typedef StatsInterval (*ListMethod)(double n1, double n2, double both, double confidence);

// Sums over all lists of N with chances p1 and p2: coverage, or the bias of the estimate.
static CheckAnswer list_sum(const CheckRow *row, ListMethod method, bool bias) {
    double size, p1, p2, sum = 0, confidence = check_confidence(row);
    if (!check_key(row, "N", &size) || !check_key(row, "p1", &p1) || !check_key(row, "p2", &p2))
        return check_not_mine();
    for (double n1 = 1; n1 <= size; n1++) {
        double on_first = distribution_binomial_point(n1, size, p1);
        for (double both = 0; both <= n1 && on_first > 1e-15; both++) {
            double on_both = on_first * distribution_binomial_point(both, n1, p2);
            for (double rest = 0; rest <= size - n1 && on_both > 1e-15; rest++) {
                double p = on_both * distribution_binomial_point(rest, size - n1, p2);
                if (p < 1e-16 || both + rest == 0)
                    continue;
                StatsInterval i = method(n1, both + rest, both, confidence);
                sum += bias ? p * (i.estimate - size) : holds(i, size) ? p : 0;
            }
        }
    }
    return check_number(sum);
}

static CheckAnswer chapman_bias(const CheckRow *row) {
    return list_sum(row, capture_wald, true);
}

static CheckAnswer chapman_coverage(const CheckRow *row) {
    if (!check_says(row->method, "coverage"))
        return check_not_mine();
    return list_sum(row,
                    check_says(row->method, "logit")        ? capture_logit
                    : check_says(row->method, "log-normal") ? capture_log_normal
                                                            : capture_wald,
                    false);
}

// ---- many tests ----

static CheckAnswer beyond_limits(const CheckRow *row) {
    double limit;
    const char *above = strchr(row->method, '>');
    if (above == NULL || check_numbers(above, &limit, 1) != 1)
        return check_not_mine();
    return check_number(distribution_normal_two_sided(limit));
}

// All null: Holm errs if the smallest p is rejected; find the largest such p by halving.
static CheckAnswer holm_error(const CheckRow *row) {
    double m, alpha, p[100], q[100], low = 0, high = 1;
    if (!check_key(row, "m", &m) || !check_key(row, "alpha", &alpha) || m > 100)
        return check_not_mine();
    for (int step = 0; step < 60; step++) {
        p[0] = (low + high) / 2;
        for (int i = 1; i < (int)m; i++)
            p[i] = 1;
        multiple_holm(p, (size_t)m, q);
        *(q[0] <= alpha ? &low : &high) = p[0];
    }
    return check_number(1 - pow(1 - low, m));
}

typedef struct {
    int m, m0;
    double alpha, p[16];
} Family;

// Expected share of false rejections. The procedure only sees between which multiples of alpha/m
// each p-value lies, so the null p-values are placed cell by cell; the others are 0.
static double false_discoveries(Family *f, int cell, int placed, double weight) {
    double width = f->alpha / f->m;
    if (cell == f->m || placed == f->m0) {
        double q[16], all = 0, wrong = 0;
        for (int i = placed; i < f->m0; i++)
            f->p[i] = (f->alpha + 1) / 2;
        multiple_benjamini_hochberg(f->p, (size_t)f->m, q);
        for (int i = 0; i < f->m; i++) {
            all += q[i] <= f->alpha;
            wrong += i < f->m0 && q[i] <= f->alpha;
        }
        return all > 0 ? weight * pow(1 - f->alpha, f->m0 - placed) * wrong / all : 0;
    }
    double sum = 0, ways = 1;
    for (int here = 0; here <= f->m0 - placed; here++) {
        sum += false_discoveries(f, cell + 1, placed + here, weight * ways);
        if (placed + here < f->m0)
            f->p[placed + here] = (cell + 0.5) * width;
        ways *= width * (f->m0 - placed - here) / (here + 1);
    }
    return sum;
}

static CheckAnswer discovery_rate(const CheckRow *row) {
    double alpha, sizes[2];
    const char *of = strstr(row->method, "m0=");
    if (of == NULL || check_numbers(of + 3, sizes, 2) < 1 || !check_key(row, "alpha", &alpha))
        return check_not_mine();
    const char *whole = strstr(of, "m=");
    Family f = {.alpha = alpha, .m0 = (int)sizes[0]};
    if (whole == NULL || check_numbers(whole + 2, sizes, 1) != 1 || sizes[0] > 15)
        return check_not_mine();
    f.m = (int)sizes[0];
    return check_number(false_discoveries(&f, 0, 0, 1));
}

const CheckMethod published_coverage[] = {
    {"* exact coverage", newcombe_coverage},
    {"wilson * coverage*", proportion_coverage},
    {"cp * coverage*", proportion_coverage},
    {"midp * coverage*", proportion_coverage},
    {"wald * coverage*", proportion_coverage},
    {"Garwood exact coverage", garwood_coverage},
    {"exact conditional rate-ratio CI, exact coverage", ratio_coverage},
    {"Goodman simultaneous coverage", goodman_coverage},
    {"Chapman exact bias*", chapman_bias},
    {"Chapman * coverage", chapman_coverage},
    {"transformed-logit coverage", chapman_coverage},
    {"P(|Z|>3)*", beyond_limits},
    {"Holm*family-wise error*", holm_error},
    {"BH false discovery rate*", discovery_rate},
    {NULL, NULL},
};
