// SPDX-License-Identifier: GPL-3.0-or-later
// How long the statistics take: a table of 10,000 shares with mid-P limits, beside R doing the same
// in vectors (midp.R, run once by this program), and sorted methods by size.
#include "stats/incidence.h"
#include "stats/logrank.h"
#include "stats/proportion.h"
#include "stats/quantile.h"
#include "stats/rank.h"
#include "stats/shift.h"
#include "stats/survival.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { TABLE = 10000, LARGEST = 1000000 };

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

// The least of several runs of R over the same counts, and the limits' sum to compare; seconds.
static double run_r(const char *script, const double *x, const double *n, double *sum) {
    char line[200];
    char name[] = "/tmp/crossward-bench-XXXXXX";
    int file = mkstemp(name);
    FILE *counts = file < 0 ? NULL : fdopen(file, "w");
    if (counts == NULL)
        return NAN;
    for (int i = 0; i < TABLE; i++)
        fprintf(counts, "%.0f %.0f\n", x[i], n[i]);
    fclose(counts);
    snprintf(line, sizeof line, "Rscript %.100s %s", script, name);
    FILE *answer = popen(line, "r");
    double seconds = NAN;
    if (answer == NULL || fscanf(answer, "%lf %lf", &seconds, sum) != 2)
        seconds = NAN;
    if (answer != NULL)
        pclose(answer);
    remove(name);
    return seconds;
}

static void midp_table(gsl_rng *r, const char *script) {
    static double x[TABLE], n[TABLE];
    double least = INFINITY, sum = 0, their_sum = NAN;
    for (int i = 0; i < TABLE; i++) { // units by months: small and large
        n[i] = floor(exp(gsl_rng_uniform(r) * log(2000))) + 1;
        x[i] = gsl_ran_binomial(r, 0.1, (unsigned)n[i]);
    }
    for (int run = 0; run < 5; run++) {
        double start = now();
        sum = 0;
        for (int i = 0; i < TABLE; i++) {
            StatsInterval limits = proportion_midp(x[i], n[i], 0.95);
            sum += limits.lower + limits.upper;
        }
        least = fmin(least, now() - start);
    }
    double theirs = run_r(script, x, n, &their_sum);
    printf("mid-P limits of 10,000 shares                    %8.3f s (%s 0.1); R in vectors %.3f "
           "s, %.1f times as long; "
           "sums of limits differ by %.0e\n",
           least, least < 0.1 ? "under" : "OVER", theirs, theirs / least, fabs(sum - their_sum));
}

// Data of one size; times of a method are told for three sizes, with how much longer ten times the
// size takes (n log n: about 11 to 13; n squared: 100).
typedef struct {
    double *times, *other;
    bool *event;
    unsigned *end;
    size_t *group, n;
    SurvivalStep *steps;
    IncidenceStep *ends;
} Sample;

typedef double (*Work)(Sample *s);

static double quantile_work(Sample *s) {
    for (size_t i = 0; i < s->n; i++)
        s->other[i] = s->times[i];
    quantile_sort(s->other, s->n);
    return quantile_interval(s->other, s->n, 0.9, 0.95).upper;
}

static double logrank_work(Sample *s) {
    LogrankData d = {s->times, s->event, s->group, NULL, s->n, 5, 1};
    return logrank_test(&d, LOGRANK_EQUAL, NULL, NULL, NULL).statistic;
}

static double survival_work(Sample *s) {
    size_t count;
    survival_curve(s->times, s->event, s->n, s->steps, &count);
    return survival_quantile(s->steps, count, 0.5, 0.95, SURVIVAL_LOG_LOG).estimate;
}

static double incidence_work(Sample *s) {
    size_t count;
    incidence_curve(s->times, s->end, s->n, 1, s->ends, &count);
    return incidence_interval(s->ends, count, 60, 0.95).upper;
}

static double shift_work(Sample *s) {
    return shift_hodges_lehmann(s->times, s->n / 2, s->times + s->n / 2, s->n - s->n / 2, 0.95)
        .estimate;
}

static void by_size(const char *name, Work work, Sample *s) {
    double last = NAN;
    printf("%-44s", name);
    for (s->n = LARGEST / 100; s->n <= LARGEST; s->n *= 10) {
        double least = INFINITY, result = 0;
        for (int run = 0; run < 3; run++) {
            double start = now();
            result += work(s);
            least = fmin(least, now() - start);
        }
        printf("  %9.4f s", least);
        if (!isnan(last))
            printf(" (%4.1f x)", least / last);
        last = isnan(result) ? NAN : least;
    }
    putchar('\n');
}

int main(int argc, char **argv) {
    gsl_set_error_handler_off();
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(r, 1);
    midp_table(r, argc > 1 ? argv[1] : "tests/bench/midp.R");
    Sample s = {malloc(LARGEST * sizeof(double)),       malloc(LARGEST * sizeof(double)),
                malloc(LARGEST * sizeof(bool)),         malloc(LARGEST * sizeof(unsigned)),
                malloc(LARGEST * sizeof(size_t)),       0,
                malloc(LARGEST * sizeof(SurvivalStep)), malloc(LARGEST * sizeof(IncidenceStep))};
    if (!s.times || !s.other || !s.event || !s.end || !s.group || !s.steps || !s.ends)
        return 1;
    for (size_t i = 0; i < LARGEST; i++) {
        s.times[i] = gsl_ran_exponential(r, 90);
        s.end[i] = (unsigned)gsl_rng_uniform_int(r, 4);
        s.event[i] = s.end[i] > 0;
        s.group[i] = gsl_rng_uniform_int(r, 5);
    }
    printf("%-44s  %11s  %20s  %20s\n", "seconds for so many times, all different", "10,000",
           "100,000", "1,000,000");
    by_size("exact limits of a quantile, with sorting", quantile_work, &s);
    by_size("Kaplan-Meier with the median's limits", survival_work, &s);
    by_size("log-rank of 5 groups", logrank_work, &s);
    by_size("cumulative incidence with limits", incidence_work, &s);
    by_size("Hodges-Lehmann with limits", shift_work, &s);
    gsl_rng_free(r);
    void *all[] = {s.times, s.other, s.event, s.end, s.group, s.steps, s.ends};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        free(all[i]);
    return 0;
}
