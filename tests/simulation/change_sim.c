// SPDX-License-Identifier: GPL-3.0-or-later
// How often a change is said where none is, and how often a real step is found: 200 invented
// reports a case, judged with the functions of stats/change.h.
#include "stats/change.h"
#include "stats/multiple.h"
#include "stats/quantile.h"
#include "stats/table.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { MONTHS = 24, QUARTERS = 8, UNITS = 12, REPORTS = 200, MOST_TESTS = 1400, MOST_N = 4000 };
enum { SHARES = 25, RATES = 4, MEDIANS = 20, UNIT_SHARES = 8 }; // of the network; of each unit

static const double level[SHARES] = {.02, .05, .10, .15, .20, .30, .40, .50, .60,
                                     .70, .80, .85, .90, .95, .03, .08, .12, .25,
                                     .35, .45, .55, .65, .75, .88, .93};

typedef struct {
    const char *name;
    int a_month;     // records of the network; a unit has a twelfth of them
    double wander;   // SD of a period's true log odds (shares), log mean (the rest)
    double step;     // of share 6 (0.40), in standard errors of the last quarter
    double at_most;  // wanted: reports with a signal where nothing changes
    double of_exact; // wanted: power over that of the exact test
    double last;     // of the last month (medians): its part of a month's records; 0: all
} Case;

typedef struct {
    double p[MOST_TESTS];
    bool stepped[MOST_TESTS]; // belongs to the series with the step
    size_t n;
} Report;

typedef struct {
    const Case *c;
    gsl_rng *rng;
} World;

static void note(Report *r, double p, bool stepped) {
    if (isnan(p))
        return;
    r->p[r->n] = p;
    r->stepped[r->n++] = stepped;
}

static ChangeCell sum(const ChangeCell *cell, size_t n) {
    ChangeCell all = {.whole = true};
    for (size_t i = 0; i < n; i++) {
        all.events += cell[i].events;
        all.total += cell[i].total;
        all.squares += cell[i].squares;
    }
    return all;
}

// All tests of a series: point, shift, trend, the last quarter against the one before and that of a
// year ago, the last year against the one before. The quarters of medians, and then years, are
// given.
static void test(const ChangeSeries *s, const ChangeCell *quarter, size_t quarters,
                 const ChangeCell *year, bool stepped, Report *r) {
    size_t at;
    int side;
    note(r, change_point(s, &at), stepped);
    note(r, change_shift(s, NULL, &side), stepped);
    note(r, change_trend(s, 0.95).p, stepped);
    const ChangeModel m = change_model(s);
    for (size_t back = 1; back <= 4; back += 3)
        note(r,
             change_between(s->measure, &quarter[quarters - 1], &quarter[quarters - 1 - back],
                            m.sigma * m.sigma, 0.95)
                 .p,
             stepped);
    const ChangeCell now = year ? year[1] : sum(quarter + quarters - 4, 4);
    const ChangeCell then = year ? year[0] : sum(quarter + quarters - 8, 4);
    note(r, change_between_spread(s->measure, &now, &then, change_spread(s, &m), 0.95).p, stepped);
}

static void count_series(const World *w, ChangeMeasure measure, double mean, int months, size_t k,
                         double step, Report *r, double *exact) {
    ChangeCell cell[MONTHS], quarter[QUARTERS];
    const double each = (double)w->c->a_month / (k == MONTHS ? 1 : 4.0);
    for (size_t i = 0; i < k; i++) {
        const double shift = gsl_ran_gaussian(w->rng, w->c->wander);
        const bool late = i + (size_t)months >= k;
        double p = 1 / (1 + (1 / mean - 1) * exp(-shift));
        p = late ? fmin(1, p + step) : p;
        cell[i] = (ChangeCell){.whole = true};
        if (measure == CHANGE_VOLUME) {
            cell[i].total = 365.25 / 12 / 7;
            cell[i].events = gsl_ran_poisson(w->rng, each * exp(shift));
            continue;
        }
        cell[i].total = gsl_ran_poisson(w->rng, each);
        if (measure == CHANGE_SHARE)
            cell[i].events = gsl_ran_binomial(w->rng, p, (unsigned)cell[i].total);
        for (int j = 0; measure == CHANGE_RATE && j < (int)cell[i].total; j++) {
            // one record in ten has events, one or more
            const double events =
                gsl_rng_uniform(w->rng) < mean * exp(shift) ? gsl_ran_geometric(w->rng, 0.7) : 0;
            cell[i].events += events;
            cell[i].squares += events * events;
        }
    }
    const size_t each_quarter = k / QUARTERS;
    for (size_t q = 0; q < QUARTERS; q++)
        quarter[q] = sum(cell + q * each_quarter, each_quarter);
    const ChangeSeries s = {measure, cell, k, (double)k / 2};
    test(&s, quarter, QUARTERS, NULL, step > 0, r);
    if (exact) {
        const ChangeCell before = quarter[QUARTERS - 2], *now = &quarter[QUARTERS - 1];
        const double cells[] = {now->events, now->total - now->events, before.events,
                                before.total - before.events};
        *exact = table_fisher(cells).two_sided;
    }
}

static double minutes[MONTHS][MOST_N], by_quarter[QUARTERS][3 * MOST_N], by_year[2][12 * MOST_N];

static void median_series(const World *w, size_t k, Report *r) {
    ChangeCell cell[MONTHS], quarter[QUARTERS] = {{0}}, year[2] = {{0}};
    const double each = (double)w->c->a_month / (k == MONTHS ? 1 : 4.0);
    for (size_t i = 0; i < k; i++) {
        const size_t y = 2 * i / k;
        const double part = k == MONTHS && i == k - 1 && w->c->last > 0 ? w->c->last : 1;
        const size_t q = i * QUARTERS / k, n = gsl_ran_poisson(w->rng, each * part);
        const double shift = gsl_ran_gaussian(w->rng, w->c->wander);
        for (size_t j = 0; j < n; j++)
            minutes[i][j] = floor(120 * exp(shift + gsl_ran_gaussian(w->rng, 0.8)));
        memcpy(by_quarter[q] + quarter[q].minutes.k, minutes[i], n * sizeof(double));
        quarter[q].minutes.k += n;
        memcpy(by_year[y] + year[y].minutes.k, minutes[i], n * sizeof(double));
        year[y].minutes.k += n;
        quantile_sort(minutes[i], n);
        cell[i] = (ChangeCell){.minutes = {n, minutes[i], NULL}, .whole = true};
    }
    for (size_t q = 0; q < QUARTERS; q++) {
        quantile_sort(by_quarter[q], quarter[q].minutes.k);
        quarter[q].minutes.value = by_quarter[q];
        quarter[q].whole = true;
    }
    for (size_t y = 0; y < 2; y++) {
        quantile_sort(by_year[y], year[y].minutes.k);
        year[y].minutes.value = by_year[y];
        year[y].whole = true;
    }
    const ChangeSeries s = {CHANGE_MEDIAN, cell, k, (double)k / 2};
    test(&s, quarter, QUARTERS, year, false, r);
}

// A step in the last quarter of share 6; the exact test (Fisher) holds it against the quarter
// before, at 0.05 over the number of tests.
static double step_of(const Case *c) {
    return c->step * sqrt(level[6] * (1 - level[6]) / (3.0 * c->a_month));
}

static double invent(const World *w, Report *r) {
    double exact = 1;
    for (int i = 0; i < SHARES; i++)
        count_series(w, CHANGE_SHARE, level[i], 3, MONTHS, i == 6 ? step_of(w->c) : 0, r,
                     i == 6 ? &exact : NULL);
    for (int i = 0; i < RATES; i++)
        count_series(w, CHANGE_RATE, 0.02 + 0.04 * i, 0, MONTHS, 0, r, NULL);
    count_series(w, CHANGE_VOLUME, 0.5, 0, MONTHS, 0, r, NULL);
    for (int i = 0; i < MEDIANS; i++)
        median_series(w, MONTHS, r);
    for (int u = 0; u < UNITS; u++) {
        for (int i = 0; i < UNIT_SHARES; i++)
            count_series(w, CHANGE_SHARE, level[3 * i], 0, QUARTERS, 0, r, NULL);
        count_series(w, CHANGE_VOLUME, 0.5, 0, QUARTERS, 0, r, NULL);
        median_series(w, QUARTERS, r);
    }
    return exact;
}

static int run(const Case *c, unsigned long seed) {
    World w = {c, gsl_rng_alloc(gsl_rng_mt19937)};
    double any = 0, found = 0, exact = 0;
    gsl_rng_set(w.rng, seed);
    for (int i = 0; i < REPORTS; i++) {
        static Report r;
        double q[MOST_TESTS];
        bool wrong = false, right = false;
        r.n = 0;
        const double p = invent(&w, &r);
        multiple_benjamini_hochberg(r.p, r.n, q);
        for (size_t k = 0; k < r.n; k++) {
            right |= r.stepped[k] && q[k] <= 0.05;
            wrong |= !r.stepped[k] && q[k] <= 0.05;
        }
        any += wrong / (double)REPORTS;
        found += right / (double)REPORTS;
        exact += (p <= 0.05 / (double)r.n) / (double)REPORTS;
    }
    gsl_rng_free(w.rng);
    const double error = 3 * sqrt(c->at_most * (1 - c->at_most) / REPORTS);
    const bool judged = c->at_most > 0 || c->of_exact > 0;
    const bool good = (c->at_most == 0 || any <= c->at_most + error) &&
                      (c->of_exact == 0 || found >= c->of_exact * exact);
    printf("%-58s %5.1f %%", c->name, 100 * any);
    if (c->step > 0)
        printf("   %5.1f %%  %5.1f %%", 100 * exact, 100 * found);
    printf("%s\n", !judged ? "" : good ? "  as wanted" : "  NOT AS WANTED");
    return judged ? good : -1;
}

static const Case cases[] = {
    {"steady, 250 records a month", 250, 0, 0, .05, 0, 0},
    {"steady, 60 records a month", 60, 0, 0, .05, 0, 0},
    {"steady, 1000 records a month", 1000, 0, 0, .05, 0, 0},
    {"step of 8 standard errors, 250 a month", 250, 0, 8, 0, .85, 0},
    {"step of 8 standard errors, 60 a month", 60, 0, 8, 0, .85, 0},
    {"step of 7 standard errors, 250 a month", 250, 0, 7, 0, .85, 0},
    // for information: periods that differ by more than chance, though nothing moves for good
    {"periods wander by 0.1 (log odds, log mean), 250 a month", 250, .1, 0, 0, 0, 0},
    // medians of few records vary more than the chart's one spread says
    {"steady, 4 records a month", 4, 0, 0, .05, 0, 0},
    {"steady, 60 records a month, 3 in the last", 60, 0, 0, .05, 0, .05},
};

int main(void) {
    gsl_set_error_handler_off();
    printf("%d reports a case, false-discovery rate 0.05 over all change tests\n"
           "%-58s reports with   step found\n%-58s false signal   exact    any test\n",
           REPORTS, "", "");
    unsigned passed = 0, failed = 0;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const int outcome = run(&cases[i], 20311 + i);
        passed += outcome == 1;
        failed += outcome == 0;
    }
    printf("%u passed, %u failed\n", passed, failed);
    return failed == 0 ? 0 : 1;
}
