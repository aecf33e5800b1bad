// SPDX-License-Identifier: GPL-3.0-or-later
// What must hold for any input, over random inputs with a fixed seed: limits bracket, mirror, widen
// with confidence and shrink with numbers; shares of a whole add to 1; the order of the input
// changes nothing.
#include "stats/difference.h"
#include "stats/expected.h"
#include "stats/incidence.h"
#include "stats/logistic.h"
#include "stats/logrank.h"
#include "stats/mix.h"
#include "stats/multiple.h"
#include "stats/proportion.h"
#include "stats/quantile.h"
#include "stats/rank.h"
#include "stats/rate.h"
#include "stats/ratio.h"
#include "stats/shift.h"
#include "stats/survival.h"
#include "stats/trend.h"

#include <check.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { ROUNDS = 2000, SEED = 20310101, MOST = 80 };

static gsl_rng *random_numbers(void) {
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(r, SEED);
    return r;
}

// From 1 to `most`, small and large alike often.
static double size(gsl_rng *r, double most) {
    return floor(exp(gsl_rng_uniform(r) * log(most + 0.999)));
}

// Events among n, often none or all.
static double events(gsl_rng *r, double n) {
    double u = gsl_rng_uniform(r);
    return u < 0.1 ? 0 : u < 0.2 ? n : floor(gsl_rng_uniform(r) * (n + 1));
}

static void near(double a, double b, double tolerance) {
    ck_assert_msg(a == b || fabs(a - b) <= tolerance * (1 + fabs(b)), "%.17g, %.17g", a, b);
}

// Limits are known and enclose the estimate; slack for the rounding of an estimate on its limit.
static void brackets(StatsInterval i) {
    ck_assert_msg(i.lower <= i.estimate + 1e-13 * (1 + fabs(i.estimate)) &&
                      i.estimate <= i.upper + 1e-13 * (1 + fabs(i.estimate)),
                  "%.17g in %.17g to %.17g", i.estimate, i.lower, i.upper);
}

// `outer` holds `inner`.
static void holds(StatsInterval outer, StatsInterval inner) {
    ck_assert_msg(
        outer.lower <= inner.lower + 1e-12 * (1 + fabs(inner.lower)) &&
            (outer.upper >= inner.upper || outer.upper >= inner.upper - 1e-12 * fabs(inner.upper)),
        "%.17g to %.17g does not hold %.17g to %.17g", outer.lower, outer.upper, inner.lower,
        inner.upper);
}

static double width(StatsInterval i) {
    return i.upper - i.lower;
}

// ---- one share, one rate ----

typedef StatsInterval (*OneMethod)(double x, double n, double confidence);

START_TEST(proportions) {
    static const OneMethod methods[] = {proportion_wilson, proportion_clopper_pearson,
                                        proportion_midp, proportion_wilson_corrected};
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS; round++) {
        double n = size(r, 1e5), x = events(r, n), confidence = 0.5 + gsl_rng_uniform(r) * 0.49;
        double times = 2 + floor(gsl_rng_uniform(r) * 5);
        for (size_t m = 0; m < sizeof methods / sizeof *methods; m++) {
            StatsInterval i = methods[m](x, n, confidence),
                          mirror = methods[m](n - x, n, confidence);
            brackets(i);
            ck_assert(i.lower >= 0 && i.upper <= 1);
            near(i.lower, 1 - mirror.upper, 1e-12);
            near(i.upper, 1 - mirror.lower, 1e-12);
            holds(methods[m](x, n, 0.5 * (1 + confidence)), i);
            StatsInterval more = methods[m](times * x, times * n, confidence);
            ck_assert(width(more) < width(i));
        }
        // exact limits hold those of mid-P
        holds(proportion_clopper_pearson(x, n, confidence), proportion_midp(x, n, confidence));
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(rates) {
    static const OneMethod methods[] = {rate_garwood, rate_midp, expected_ratio};
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS; round++) {
        double x = gsl_rng_uniform(r) < 0.1 ? 0 : size(r, 1e5), t = exp(gsl_ran_gaussian(r, 3));
        double confidence = 0.5 + gsl_rng_uniform(r) * 0.49;
        for (size_t m = 0; m < sizeof methods / sizeof *methods; m++) {
            StatsInterval i = methods[m](x, t, confidence);
            brackets(i);
            ck_assert(i.lower >= 0);
            holds(methods[m](x, t, 0.5 * (1 + confidence)), i);
            ck_assert(width(methods[m](3 * x, 3 * t, confidence)) < width(i));
            StatsInterval other_unit =
                methods[m](x, t * 1000, confidence); // hours or thousands of them
            near(other_unit.lower * 1000, i.lower, 1e-12);
            near(other_unit.upper * 1000, i.upper, 1e-12);
        }
        holds(rate_garwood(x, t, confidence), rate_midp(x, t, confidence));
    }
    gsl_rng_free(r);
}
END_TEST

// ---- two groups ----

typedef StatsInterval (*TwoMethod)(double x1, double n1, double x2, double n2, double confidence);

START_TEST(differences) {
    static const TwoMethod methods[] = {difference_newcombe, difference_miettinen_nurminen,
                                        difference_mee};
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS / 2; round++) {
        double n1 = size(r, 2000), n2 = size(r, 2000), x1 = events(r, n1), x2 = events(r, n2);
        double confidence = 0.5 + gsl_rng_uniform(r) * 0.49;
        for (size_t m = 0; m < sizeof methods / sizeof *methods; m++) {
            StatsInterval i = methods[m](x1, n1, x2, n2, confidence);
            StatsInterval swapped = methods[m](x2, n2, x1, n1, confidence);
            StatsInterval others = methods[m](n1 - x1, n1, n2 - x2, n2, confidence);
            brackets(i);
            ck_assert(i.lower >= -1 && i.upper <= 1);
            near(i.lower, -swapped.upper, 1e-9);
            near(i.upper, -swapped.lower, 1e-9);
            near(i.lower, -others.upper, 1e-9);
            holds(methods[m](x1, n1, x2, n2, 0.5 * (1 + confidence)), i);
            ck_assert(width(methods[m](3 * x1, 3 * n1, 3 * x2, 3 * n2, confidence)) < width(i));
        }
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(ratios) {
    static const TwoMethod methods[] = {ratio_exact, ratio_midp};
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS / 2; round++) {
        double x1 = gsl_rng_uniform(r) < 0.1 ? 0 : size(r, 1e4), x2 = size(r, 1e4);
        double t1 = exp(gsl_ran_gaussian(r, 2)), t2 = exp(gsl_ran_gaussian(r, 2));
        double confidence = 0.5 + gsl_rng_uniform(r) * 0.49;
        for (size_t m = 0; m < 2; m++) {
            StatsInterval i = methods[m](x1, t1, x2, t2, confidence);
            StatsInterval swapped = methods[m](x2, t2, x1, t1, confidence);
            brackets(i);
            near(i.lower, 1 / swapped.upper, 1e-9);
            near(1 / i.upper, swapped.lower, 1e-9);
            holds(methods[m](x1, t1, x2, t2, 0.5 * (1 + confidence)), i);
        }
        near(ratio_test(x1, t1, x2, t2, 1), ratio_test(x2, t2, x1, t1, 1), 1e-9);
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(mixes) {
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS; round++) {
        double n = size(r, 1e5), x = events(r, n), sum = 0;
        int k = 2 + (int)gsl_rng_uniform_int(r, 8);
        StatsInterval i = mix_goodman(x, n, k, 0.95);
        brackets(i);
        holds(i, proportion_wilson(x, n, 0.95)); // simultaneous limits hold each one's own
        holds(mix_goodman(x, n, k + 1, 0.95), i);
        for (int c = 0; c < k; c++)
            sum += mix_goodman(floor(n / k) + (c < fmod(n, k)), n, k, 0.95).estimate;
        near(sum, 1, 1e-12);
    }
    gsl_rng_free(r);
}
END_TEST

// ---- times ----

typedef struct {
    double times[MOST];
    unsigned end[MOST];
    bool event[MOST];
    size_t group[MOST], n;
} Subjects;

static void draw(gsl_rng *r, Subjects *s) {
    s->n = 2 + gsl_rng_uniform_int(r, MOST - 2);
    bool tied = gsl_rng_uniform(r) < 0.5;
    for (size_t i = 0; i < s->n; i++) {
        double t = gsl_ran_exponential(r, 20);
        s->times[i] = tied ? floor(t) : t;
        s->end[i] = (unsigned)gsl_rng_uniform_int(r, 4);
        s->event[i] = s->end[i] > 0;
        s->group[i] = gsl_rng_uniform_int(r, 3);
    }
}

static void shuffle(gsl_rng *r, const Subjects *s, Subjects *other) {
    size_t order[MOST];
    for (size_t i = 0; i < s->n; i++)
        order[i] = i;
    gsl_ran_shuffle(r, order, s->n, sizeof *order);
    other->n = s->n;
    for (size_t i = 0; i < s->n; i++) {
        other->times[i] = s->times[order[i]];
        other->end[i] = s->end[order[i]];
        other->event[i] = s->event[order[i]];
        other->group[i] = s->group[order[i]];
    }
}

START_TEST(survival_limits) {
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS; round++) {
        Subjects s;
        SurvivalStep steps[MOST];
        size_t count;
        draw(r, &s);
        ck_assert(survival_curve(s.times, s.event, s.n, steps, &count));
        for (size_t i = 0; i < count; i++) {
            ck_assert(i == 0 || steps[i].survival <= steps[i - 1].survival);
            for (int l = 0; l < 3; l++) {
                StatsInterval at = survival_at(steps, count, steps[i].time, 0.9, (SurvivalLimits)l);
                if (isnan(at.lower))
                    continue;
                brackets(at);
                ck_assert(at.lower >= 0 && at.upper <= 1);
                holds(survival_at(steps, count, steps[i].time, 0.99, (SurvivalLimits)l), at);
            }
        }
        StatsInterval median = survival_quantile(steps, count, 0.5, 0.95, SURVIVAL_LOG_LOG);
        ck_assert(!(median.lower > median.estimate) && !(median.upper < median.estimate));
        ck_assert(!(survival_quantile(steps, count, 0.25, 0.95, SURVIVAL_LOG).estimate >
                    median.estimate));
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(without_censoring_survival_is_a_share) {
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS / 4; round++) {
        Subjects s;
        SurvivalStep steps[MOST];
        IncidenceStep only[MOST];
        size_t count, same;
        draw(r, &s);
        for (size_t i = 0; i < s.n; i++) {
            s.event[i] = true;
            s.end[i] = 1;
        }
        survival_curve(s.times, s.event, s.n, steps, &count);
        incidence_curve(s.times, s.end, s.n, 1, only, &same);
        ck_assert_uint_eq(count, same);
        for (size_t i = 0; i + 1 < count; i++) {
            double left = 0, n = (double)s.n, t = steps[i].time;
            for (size_t j = 0; j < s.n; j++)
                left += s.times[j] > t;
            near(steps[i].survival, left / n, 1e-13);
            near(survival_error(steps, count, t), sqrt(left / n * (1 - left / n) / n), 1e-12);
            // and with one kind of end its incidence has the same variance, by these methods
            near(incidence_variance(only, count, t, INCIDENCE_DELTA), left / n * (1 - left / n) / n,
                 1e-12);
            near(incidence_variance(only, count, t, INCIDENCE_JACKKNIFE),
                 left / n * (1 - left / n) / n, 1e-12);
        }
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(ends_add_to_1) {
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS; round++) {
        Subjects s;
        IncidenceStep steps[3][MOST];
        SurvivalStep all[MOST], alone[MOST];
        size_t count, n;
        bool own[MOST];
        draw(r, &s);
        for (unsigned of = 1; of <= 3; of++)
            ck_assert(incidence_curve(s.times, s.end, s.n, of, steps[of - 1], &count));
        survival_curve(s.times, s.event, s.n, all, &n);
        for (size_t i = 0; i < s.n; i++)
            own[i] = s.end[i] == 1;
        survival_curve(s.times, own, s.n, alone, &n);
        for (size_t i = 0; i < count; i++) {
            double sum = all[i].survival;
            for (int k = 0; k < 3; k++) {
                sum += steps[k][i].incidence;
                ck_assert(i == 0 || steps[k][i].incidence >= steps[k][i - 1].incidence);
            }
            ck_assert_double_eq_tol(sum, 1, 1e-12);
            ck_assert(steps[0][i].incidence <= 1 - alone[i].survival + 1e-13);
            StatsInterval limits = incidence_interval(steps[0], count, steps[0][i].time, 0.95);
            if (!isnan(limits.lower))
                brackets(limits);
        }
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(order_of_times_changes_nothing) {
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS / 2; round++) {
        Subjects s, other;
        SurvivalStep a[MOST], b[MOST];
        IncidenceStep c[MOST], d[MOST];
        size_t na, nb;
        draw(r, &s);
        shuffle(r, &s, &other);
        survival_curve(s.times, s.event, s.n, a, &na);
        survival_curve(other.times, other.event, other.n, b, &nb);
        ck_assert(na == nb && memcmp(a, b, na * sizeof *a) == 0);
        incidence_curve(s.times, s.end, s.n, 2, c, &na);
        incidence_curve(other.times, other.end, other.n, 2, d, &nb);
        ck_assert(na == nb && memcmp(c, d, na * sizeof *c) == 0);
        LogrankData one = {s.times, s.event, s.group, NULL, s.n, 3, 1};
        LogrankData two = {other.times, other.event, other.group, NULL, other.n, 3, 1};
        LogrankTest p = logrank_test(&one, LOGRANK_EQUAL, NULL, NULL, NULL);
        LogrankTest q = logrank_test(&two, LOGRANK_EQUAL, NULL, NULL, NULL);
        ck_assert(p.df == q.df || (isnan(p.df) && isnan(q.df)));
        if (!isnan(p.df))
            near(p.statistic, q.statistic, 1e-13);
        for (size_t i = 0; i < s.n; i++) { // other names for the groups, another unit of time
            other.group[i] = (other.group[i] + 1) % 3;
            other.times[i] *= 60;
        }
        LogrankTest renamed = logrank_test(&two, LOGRANK_EQUAL, NULL, NULL, NULL);
        if (!isnan(p.df))
            near(renamed.statistic, p.statistic, 1e-10);
    }
    gsl_rng_free(r);
}
END_TEST

// ---- ranks, lists of p-values ----

// The values with equal ones put together; sorts them. room: 2 n numbers.
static Runs put_together(double *values, size_t n, double *room) {
    Runs runs = {0, room, room + n};
    quantile_sort(values, n);
    for (size_t i = 0; i < n; i++) {
        runs.k += i == 0 || values[i] != values[i - 1];
        room[runs.k - 1] = values[i];
        room[n + runs.k - 1] = (double)(i + 1);
    }
    return runs;
}

static void same_interval(StatsInterval a, StatsInterval b) {
    const double pairs[][2] = {{a.estimate, b.estimate}, {a.lower, b.lower}, {a.upper, b.upper}};
    for (int i = 0; i < 3; i++)
        ck_assert(pairs[i][0] == pairs[i][1] || (isnan(pairs[i][0]) && isnan(pairs[i][1])));
}

// A sample says the same whether it is a list or runs.
START_TEST(runs_of_values) {
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS / 4; round++) {
        double x[80], y[80], all[160], room[3][320];
        const size_t nx = 1 + gsl_rng_uniform_int(r, 80), ny = 1 + gsl_rng_uniform_int(r, 80);
        const double spread = gsl_rng_uniform(r) < 0.3 ? 1e9 : 10; // hardly a tie, or many
        for (size_t i = 0; i < nx; i++)
            all[i] = x[i] = floor(gsl_ran_gaussian(r, spread));
        for (size_t i = 0; i < ny; i++)
            all[nx + i] = y[i] = floor(gsl_ran_gaussian(r, spread) + 3);
        size_t group[160] = {0};
        for (size_t i = nx; i < nx + ny; i++)
            group[i] = 1;
        const RankGroups kruskal = rank_kruskal_wallis(all, group, nx + ny, 2);
        const Runs a = put_together(x, nx, room[0]), b = put_together(y, ny, room[1]);
        const Runs both = put_together(all, nx + ny, room[2]);
        const RankTest test = rank_mann_whitney(x, nx, y, ny, RANK_AUTO);
        const RankTest of_runs = rank_mann_whitney_runs(a, b, RANK_AUTO);
        ck_assert(test.statistic == of_runs.statistic && test.two_sided == of_runs.two_sided);
        same_interval(shift_hodges_lehmann(x, nx, y, ny, 0.95), shift_within_runs(&a, &b, 1, 0.95));
        same_interval(quantile_interval(x, nx, 0.75, 0.95),
                      quantile_interval_of_runs(a, 0.75, 0.95));
        const RankGroups groups = rank_kruskal_wallis_runs(both, (Runs[]){a, b}, 2);
        ck_assert(kruskal.p == groups.p || (isnan(kruskal.p) && isnan(groups.p)));
        double rest[320], more[320];
        const Runs others = runs_without(both, a, rest);
        ck_assert_double_eq(runs_size(others), (double)ny);
        for (size_t i = 0; i < ny; i++)
            ck_assert_double_eq(runs_at(others, (double)(i + 1)), y[i]);
        const Runs longer = runs_with(others, INFINITY, 3, more);
        ck_assert(runs_size(longer) == (double)(ny + 3) && isinf(runs_at(longer, (double)ny + 1)));
    }
    gsl_rng_free(r);
}
END_TEST

// Samples taken together are that of all their values, and ranks in it those of the sorted list.
START_TEST(runs_of_several) {
    enum { PARTS = 7, EACH = 20, ALL = PARTS * EACH };
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS / 4; round++) {
        double all[ALL], room[PARTS][2 * EACH], together[4 * ALL], whole[2 * ALL];
        Runs part[PARTS];
        const size_t parts = gsl_rng_uniform_int(r, PARTS + 1);
        size_t n = 0;
        for (size_t k = 0; k < parts; k++) {
            double *own = all + n;
            const size_t size = gsl_rng_uniform_int(r, EACH + 1);
            for (size_t i = 0; i < size; i++)
                own[i] = gsl_ran_poisson(r, 6);
            n += size;
            quantile_sort(own, size);
            part[k] = k % 3 == 0 ? (Runs){size, own, NULL} : put_together(own, size, room[k]);
        }
        const Runs one = runs_together(part, parts, together);
        quantile_sort(memcpy(whole, all, n * sizeof *all), n);
        ck_assert(runs_size(one) == (double)n);
        for (size_t i = 0; i < n; i++)
            ck_assert(runs_at(one, (double)(i + 1)) == whole[i]);
        for (size_t i = 1; i < one.k; i++)
            ck_assert(one.value[i] > one.value[i - 1]);
        double ranks = 0;
        for (size_t k = 0; k < parts; k++)
            ranks += rank_sum_runs(part[k], one);
        ck_assert(ranks == (double)n * ((double)n + 1) / 2);
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(ranks) {
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS / 4; round++) {
        double x[30], y[30], moved[30];
        size_t nx = 2 + gsl_rng_uniform_int(r, 28), ny = 2 + gsl_rng_uniform_int(r, 28);
        bool tied = gsl_rng_uniform(r) < 0.5;
        for (size_t i = 0; i < 30; i++) {
            x[i] = tied ? gsl_ran_poisson(r, 5) : gsl_ran_gaussian(r, 1);
            y[i] = tied ? gsl_ran_poisson(r, 6) : gsl_ran_gaussian(r, 1) + 0.5;
        }
        RankTest one = rank_mann_whitney(x, nx, y, ny, RANK_AUTO);
        RankTest swapped = rank_mann_whitney(y, ny, x, nx, RANK_AUTO);
        near(one.statistic + swapped.statistic, (double)(nx * ny), 1e-12);
        near(one.two_sided, swapped.two_sided, 1e-12);
        near(one.greater, swapped.less, 1e-12);
        StatsInterval shift = shift_hodges_lehmann(x, nx, y, ny, 0.95);
        if (!isnan(shift.lower))
            brackets(shift);
        gsl_ran_shuffle(r, x, nx, sizeof *x);
        RankTest shuffled = rank_mann_whitney(x, nx, y, ny, RANK_AUTO);
        ck_assert(shuffled.statistic == one.statistic && shuffled.two_sided == one.two_sided);
        for (size_t i = 0; i < nx; i++)
            moved[i] = x[i] + 3;
        near(shift_hodges_lehmann(moved, nx, y, ny, 0.95).estimate, shift.estimate + 3, 1e-12);
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(adjusted_p_values) {
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS; round++) {
        double p[20], bh[20], holm[20];
        size_t n = 1 + gsl_rng_uniform_int(r, 20);
        for (size_t i = 0; i < n; i++)
            p[i] = pow(gsl_rng_uniform(r), 3);
        ck_assert(multiple_benjamini_hochberg(p, n, bh) && multiple_holm(p, n, holm));
        for (size_t i = 0; i < n; i++) {
            const double up = 1 + 1e-14; // rounding
            ck_assert(p[i] <= up * bh[i] && bh[i] <= up * holm[i]);
            ck_assert(holm[i] <= up * fmin(1, (double)n * p[i]));
            for (size_t j = 0; j < n; j++)
                ck_assert(p[i] > p[j] || bh[i] <= bh[j]);
        }
    }
    gsl_rng_free(r);
}
END_TEST

// A test whose p becomes greater stays below the level if that p is at most the cut, and only then.
START_TEST(cut_of_adjusted_p_values) {
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS; round++) {
        double p[20], q[20], other[20];
        const size_t n = 2 + gsl_rng_uniform_int(r, 19), i = gsl_rng_uniform_int(r, n);
        for (size_t k = 0; k < n; k++)
            p[k] = k == 1 && i != 1 ? NAN : pow(gsl_rng_uniform(r), 5);
        ck_assert(multiple_benjamini_hochberg(p, n, q));
        const double cut = multiple_benjamini_hochberg_cut(q, n, 0.05);
        if (!(q[i] <= 0.05))
            continue;
        p[i] += (1 - p[i]) * pow(gsl_rng_uniform(r), 4);
        ck_assert(multiple_benjamini_hochberg(p, n, other));
        ck_assert((p[i] <= cut) == (other[i] <= 0.05));
    }
    gsl_rng_free(r);
}
END_TEST

// ---- regression ----

START_TEST(regressions) {
    enum { ROWS = 40, COLUMNS = 3 };
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS / 10; round++) {
        double x[ROWS * COLUMNS], y[ROWS], n[ROWS], b[COLUMNS], c[COLUMNS], v[9], w[9];
        for (int i = 0; i < ROWS; i++) {
            x[i * COLUMNS] = 1;
            x[i * COLUMNS + 1] = gsl_ran_gaussian(r, 1);
            x[i * COLUMNS + 2] = gsl_ran_bernoulli(r, 0.4);
            n[i] = 1 + (double)gsl_rng_uniform_int(r, 4);
            y[i] = gsl_ran_binomial(r, 1 / (1 + exp(1 - x[i * COLUMNS + 1])), (unsigned)n[i]);
        }
        LogisticData data = {x, y, n, ROWS, COLUMNS, NULL, 0};
        double backwards[ROWS * COLUMNS], others[ROWS], trials[ROWS], expected = 0, observed = 0;
        for (int i = 0; i < ROWS; i++) { // rows in reverse, events and non-events swapped
            memcpy(backwards + i * COLUMNS, x + (ROWS - 1 - i) * COLUMNS, COLUMNS * sizeof *x);
            trials[i] = n[ROWS - 1 - i];
            others[i] = trials[i] - y[ROWS - 1 - i];
        }
        LogisticData mirror = {backwards, others, trials, ROWS, COLUMNS, NULL, 0};
        typedef LogisticFit (*Fit)(const LogisticData *, double *, double *);
        static const Fit fits[] = {logistic_fit, logistic_firth};
        for (int f = 0; f < 2; f++) {
            LogisticFit one = fits[f](&data, b, v), two = fits[f](&mirror, c, w);
            ck_assert_int_eq(one.status, LOGISTIC_CONVERGED);
            ck_assert_int_eq(two.status, LOGISTIC_CONVERGED);
            near(one.deviance, two.deviance, 1e-10);
            for (int j = 0; j < COLUMNS; j++) {
                near(b[j], -c[j], 1e-9);
                near(v[4 * j], w[4 * j], 1e-9);
            }
            if (f == 1)
                continue;
            for (int i = 0; i < ROWS; i++) {
                observed += y[i];
                expected += n[i] * logistic_risk(b, x + i * COLUMNS, COLUMNS);
            }
            near(expected, observed,
                 1e-10); // with an intercept the fitted events are the seen ones
        }
    }
    gsl_rng_free(r);
}
END_TEST

START_TEST(trends) {
    gsl_rng *r = random_numbers();
    for (int round = 0; round < ROUNDS / 4; round++) {
        double y[24], reversed[24];
        size_t k = 3 + gsl_rng_uniform_int(r, 21);
        for (size_t i = 0; i < k; i++)
            y[i] = 1 + gsl_ran_poisson(r, 6);
        for (size_t i = 0; i < k; i++)
            reversed[i] = y[k - 1 - i];
        TrendFit up = trend_poisson(y, NULL, NULL, k),
                 down = trend_poisson(reversed, NULL, NULL, k);
        near(up.slope, -down.slope, 1e-11);
        near(up.slope_error, down.slope_error, 1e-11);
        near(up.phi, down.phi, 1e-10);
        brackets(trend_ratio(&up, 0.95));
        holds(trend_ratio(&up, 0.99), trend_ratio(&up, 0.95));
        holds(trend_ratio_scaled(&up, 0.95, NULL), trend_ratio(&up, 0.95));
        near(trend_score(y, NULL, NULL, k, NULL), trend_score(reversed, NULL, NULL, k, NULL),
             1e-11);
    }
    gsl_rng_free(r);
}
END_TEST

int main(void) {
    gsl_set_error_handler_off();
    Suite *suite = suite_create("stats: properties");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 120);
    tcase_add_test(tests, proportions);
    tcase_add_test(tests, rates);
    tcase_add_test(tests, differences);
    tcase_add_test(tests, ratios);
    tcase_add_test(tests, mixes);
    tcase_add_test(tests, survival_limits);
    tcase_add_test(tests, without_censoring_survival_is_a_share);
    tcase_add_test(tests, ends_add_to_1);
    tcase_add_test(tests, order_of_times_changes_nothing);
    tcase_add_test(tests, ranks);
    tcase_add_test(tests, runs_of_values);
    tcase_add_test(tests, runs_of_several);
    tcase_add_test(tests, adjusted_p_values);
    tcase_add_test(tests, cut_of_adjusted_p_values);
    tcase_add_test(tests, regressions);
    tcase_add_test(tests, trends);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
