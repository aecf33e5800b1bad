// SPDX-License-Identifier: GPL-3.0-or-later
// Published values for units held against their network: funnels, spread between units, observed
// against expected, shrinkage.
#include "published.h"
#include "stats/distribution.h"
#include "stats/expected.h"
#include "stats/funnel.h"
#include "stats/pooled.h"
#include "stats/proportion.h"
#include "stats/shrinkage.h"
#include "stats/summary.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 128 };

// ---- funnels ----

static CheckAnswer funnel_limit(const CheckRow *row) {
    double centre, n, p, expected;
    if (!check_key(row, "p", &p))
        return check_not_mine();
    if (check_key(row, "E", &expected))
        return check_number(funnel_poisson_limit(expected, p));
    if (check_key(row, "theta0", &centre) && check_key(row, "n", &n))
        return check_number(funnel_binomial_limit(centre, n, p));
    return check_not_mine();
}

// P(an honest unit lies outside): every count tried.
static CheckAnswer funnel_outside(const CheckRow *row) {
    double centre, n, level[1], outside = 0;
    const char *within = strstr(row->method, "outside ");
    if (!check_key(row, "theta0", &centre) || !check_key(row, "n", &n) || within == NULL ||
        check_numbers(within, level, 1) != 1)
        return check_not_mine();
    const StatsInterval limits = funnel_binomial_limits(n, centre, NAN, level[0] / 100);
    for (double x = 0; x <= n; x++)
        if (x / n < limits.lower || x / n > limits.upper)
            outside += distribution_binomial_point(x, n, centre);
    return check_number(outside);
}

typedef struct {
    double x[MOST], n[MOST], z[MOST], winsorised[MOST], variance[MOST], centre;
    size_t k, cut;
} Surgical;

static void surgical(Surgical *s) {
    double x = 0, n = 0;
    s->k = check_sample("surgical deaths", s->x, MOST);
    check_sample("surgical operations", s->n, MOST);
    for (size_t i = 0; i < s->k; i++) {
        x += s->x[i];
        n += s->n[i];
    }
    s->centre = x / n;
    for (size_t i = 0; i < s->k; i++) {
        s->variance[i] = s->centre * (1 - s->centre) / s->n[i];
        s->z[i] = funnel_z(s->x[i] / s->n[i], s->centre, s->variance[i]);
    }
    s->cut = funnel_winsorise(s->k, s->z, 0.1, s->winsorised);
}

static double surgical_phi(const Surgical *s, const CheckRow *row) {
    if (check_says(row->method, "I-1"))
        return funnel_phi_pearson(s->k, s->z);
    const bool cut = check_says(row->method, "winsoris") && !check_says(row->method, "no winsor");
    return funnel_phi(s->k, cut ? s->winsorised : s->z);
}

// The hospital that method or inputs name by its letter.
static size_t hospital(const CheckRow *row) {
    const char *named = strstr(row->method, "hospital ");
    if (named != NULL)
        return (size_t)(named[strlen("hospital ")] - 'A');
    named = strstr(row->inputs, "surgical ");
    return named != NULL ? (size_t)(named[strlen("surgical ")] - 'A') : MOST;
}

static CheckAnswer surgical_row(const CheckRow *row) {
    static Surgical s;
    surgical(&s);
    if (strcmp(row->quantity, "theta0") == 0)
        return check_number(s.centre);
    if (strcmp(row->quantity, "phi") == 0)
        return check_number(surgical_phi(&s, row));
    if (strcmp(row->quantity, "tau2") == 0)
        return check_number(funnel_tau2_moment(s.k, s.variance, surgical_phi(&s, row)));
    const size_t h = hospital(row);
    if (h >= s.k)
        return check_not_mine();
    if (check_says(row->method, "mid-P"))
        return check_number(proportion_test_midp(s.x[h], s.n[h], s.centre));
    const double phi = funnel_phi(s.k, s.winsorised);
    const double tau2 = funnel_tau2_moment(s.k, s.variance, phi);
    if (check_says(row->method, "additive"))
        return check_number(funnel_z(s.x[h] / s.n[h], s.centre, s.variance[h] + tau2));
    return check_number(check_says(row->method, "multiplicative") ? s.z[h] / sqrt(phi) : s.z[h]);
}

static CheckAnswer funnel_edge(const CheckRow *row) {
    const double variance[] = {0.01, 0.02, 0.03}, z[] = {-3, -1, 0, 1, 2, 4};
    double out[6];
    if (check_says(row->inputs, "n=0")) {
        const bool listed = isnan(funnel_binomial_p(0, 0, 0.1));
        return check_number(listed ? funnel_z(NAN, 0.1, INFINITY) : 0);
    }
    if (check_says(row->inputs, "theta0 = 0"))
        return check_pair(funnel_binomial_limit(0, 50, 0.025), funnel_binomial_limit(0, 50, 0.975));
    if (check_says(row->inputs, "P(X=0) > p"))
        return check_number(funnel_binomial_limit(0.01, 20, 0.025));
    if (check_says(row->inputs, "one unit"))
        return check_number(funnel_phi(1, z));
    if (check_says(row->inputs, "phi = 0.6"))
        return check_number(funnel_tau2_moment(3, variance, 0.6));
    if (check_says(row->inputs, "I=6"))
        return check_number((double)funnel_winsorise(6, z, 0.1, out));
    return check_not_mine();
}

// ---- spread between units ----

typedef enum { LOG_ODDS, LOG_RISK, RISK_DIFFERENCE } Effect;

static size_t trials(const char *name, Effect effect, double *value, double *variance) {
    double a[MOST], n1[MOST], c[MOST], n2[MOST];
    char key[48];
    double *columns[] = {a, n1, c, n2};
    static const char *const parts[] = {"treated events", "treated", "control events", "control"};
    size_t k = 0;
    for (int i = 0; i < 4; i++) {
        snprintf(key, sizeof key, "%s %s", name, parts[i]);
        k = check_sample(key, columns[i], MOST);
    }
    for (size_t i = 0; i < k; i++) {
        const double p = a[i] / n1[i], q = c[i] / n2[i], b = n1[i] - a[i], d = n2[i] - c[i];
        if (effect == LOG_ODDS) {
            value[i] = log(a[i] * d / (b * c[i]));
            variance[i] = 1 / a[i] + 1 / b + 1 / c[i] + 1 / d;
        } else if (effect == LOG_RISK) {
            value[i] = log(p / q);
            variance[i] = 1 / a[i] - 1 / n1[i] + 1 / c[i] - 1 / n2[i];
        } else {
            value[i] = p - q;
            variance[i] = p * (1 - p) / n1[i] + q * (1 - q) / n2[i];
        }
    }
    return k;
}

// Mean stays of two groups, their variance pooled (Normand 1999, Stat Med 18:321-359, table VIII).
static size_t stays(double *value, double *variance) {
    double n1[MOST], m1[MOST], s1[MOST], n2[MOST], m2[MOST], s2[MOST];
    static const char *const names[] = {"Normand 1 patients", "Normand 1 mean", "Normand 1 SD",
                                        "Normand 2 patients", "Normand 2 mean", "Normand 2 SD"};
    double *columns[] = {n1, m1, s1, n2, m2, s2};
    size_t k = 0;
    for (int i = 0; i < 6; i++)
        k = check_sample(names[i], columns[i], MOST);
    for (size_t i = 0; i < k; i++) {
        const double squares = (n1[i] - 1) * s1[i] * s1[i] + (n2[i] - 1) * s2[i] * s2[i];
        value[i] = m1[i] - m2[i];
        variance[i] = squares / (n1[i] + n2[i] - 2) * (1 / n1[i] + 1 / n2[i]);
    }
    return k;
}

static size_t pooled_inputs(const CheckRow *row, double *value, double *variance) {
    if (check_says(row->inputs, "CLASP"))
        return trials("CLASP", LOG_ODDS, value, variance);
    if (check_says(row->inputs, "bcg"))
        return trials("BCG", LOG_RISK, value, variance);
    if (check_says(row->inputs, "hine"))
        return trials("Hine", RISK_DIFFERENCE, value, variance);
    if (check_says(row->inputs, "normand"))
        return stays(value, variance);
    return 0;
}

static CheckAnswer pooled_row(const CheckRow *row) {
    double value[MOST], variance[MOST];
    const size_t k = pooled_inputs(row, value, variance);
    if (k == 0)
        return check_not_mine();
    const bool pm = check_says(row->method, "PM") || check_says(row->method, "Paule");
    const PooledMean m =
        pm ? pooled_paule_mandel(k, value, variance) : pooled_dersimonian_laird(k, value, variance);
    const double z = distribution_normal_critical(check_confidence(row));
    if (strcmp(row->quantity, "Q") == 0)
        return check_number(m.q);
    if (strncmp(row->quantity, "I2", 2) == 0)
        return check_number(100 * m.i2);
    if (strcmp(row->quantity, "SE") == 0)
        return check_number(m.se);
    if (strncmp(row->quantity, "tau", 3) == 0)
        return check_number(row->quantity[3] == '2' ? m.tau2 : sqrt(m.tau2));
    return check_part(row, (StatsInterval){m.mean, m.mean - z * m.se, m.mean + z * m.se});
}

static CheckAnswer pooled_edge(const CheckRow *row) {
    const double value[] = {0.1, 0.11, 0.09}, variance[] = {0.01, 0.01, 0.02};
    const double nothing[] = {0.01, 0, 0.02};
    const bool alone = check_says(row->inputs, "one unit");
    if (check_says(row->inputs, "variance 0")) {
        const PooledMean m = pooled_dersimonian_laird(3, value, nothing);
        return isnan(m.tau2) && isnan(m.mean) ? check_text("error") : check_number(m.tau2);
    }
    if (!alone && !check_says(row->inputs, "Q < k-1"))
        return pooled_row(row);
    const PooledMean dl = pooled_dersimonian_laird(alone ? 1 : 3, value, variance);
    const PooledMean pm = pooled_paule_mandel(alone ? 1 : 3, value, variance);
    return dl.tau2 == pm.tau2 ? check_number(dl.tau2) : check_text("the methods differ");
}

// ---- observed and expected ----

static CheckAnswer selvin(const CheckRow *row) {
    double deaths[MOST], reference[MOST], population[MOST], seen[MOST], observed = 0;
    const size_t k = check_sample("Selvin 1960 deaths", deaths, MOST);
    check_sample("Selvin 1960 population", reference, MOST);
    check_sample("Selvin 1940 population", population, MOST);
    check_sample("Selvin 1940 deaths", seen, MOST);
    for (size_t i = 0; i < k; i++)
        observed += seen[i];
    const double expected = expected_events(deaths, reference, population, k);
    if (strcmp(row->quantity, "E") == 0)
        return check_number(expected);
    if (strcmp(row->quantity, "O") == 0)
        return check_number(observed);
    return check_part(row, expected_ratio(observed, expected, check_confidence(row)));
}

static CheckAnswer observed_expected(const CheckRow *row) {
    double observed, expected;
    if (check_says(row->inputs, "Selvin"))
        return selvin(row);
    if (!check_key(row, "O", &observed) || !check_key(row, "E", &expected) ||
        row->quantity[0] == 'p')
        return check_not_mine();
    const bool byar = check_says(row->method, "Byar");
    const double confidence = check_confidence(row);
    return check_part(row, byar ? expected_ratio_byar(observed, expected, confidence)
                                : expected_ratio(observed, expected, confidence));
}

// ---- shrinkage ----

static CheckAnswer prior_part(const CheckRow *row, const ShrinkagePrior *prior) {
    const char *of = row->quantity;
    if (check_says(row->method, "posterior"))
        return check_not_mine();
    if (strcmp(of, "alpha") == 0 || strcmp(of, "shape") == 0)
        return check_number(prior->a);
    if (strcmp(of, "beta") == 0 || strcmp(of, "rate") == 0)
        return check_number(prior->b);
    return check_not_mine();
}

// The fraction in inputs or method, else the hospital, experiment or pump named by letter or
// number.
static bool unit_of(const CheckRow *row, const double *x, const double *n, size_t k, double *events,
                    double *amount) {
    if (check_fractions(row->inputs, events, amount, 1) == 1)
        return true;
    const char *named = strstr(row->method, "experiment ");
    named = named != NULL ? named : strstr(row->method, "pump ");
    double number;
    size_t at = hospital(row);
    if (named != NULL && check_numbers(named, &number, 1) == 1)
        at = (size_t)number - 1;
    if (at >= k)
        return false;
    *events = x[at];
    *amount = n[at];
    return true;
}

static CheckAnswer beta_edge(const CheckRow *row) {
    const double alike[] = {10, 10, 10, 10}, n[] = {100, 100, 100, 100}, apart[] = {2, 10, 25, 40};
    if (check_says(row->inputs, "one unit")) {
        const ShrinkagePrior prior = shrinkage_beta_binomial(alike, n, 1);
        return check_number(shrinkage_beta_posterior(&prior, 10, 100, 0.95, NULL).estimate);
    }
    if (check_says(row->inputs, "variance <=")) {
        const ShrinkagePrior prior = shrinkage_beta_binomial(alike, n, 4);
        const StatsInterval i = shrinkage_beta_posterior(&prior, 10, 100, 0.95, NULL);
        return i.estimate == 0.1 && prior.pooled ? check_text(row->expected) : check_number(0);
    }
    if (check_says(row->inputs, "n=0")) {
        const ShrinkagePrior prior = shrinkage_beta_binomial(apart, n, 4);
        const StatsInterval i = shrinkage_beta_posterior(&prior, 0, 0, 0.95, NULL);
        return i.estimate == prior.a / (prior.a + prior.b) ? check_text(row->expected)
                                                           : check_number(i.estimate);
    }
    return check_not_mine();
}

static CheckAnswer beta_row(const CheckRow *row) {
    double x[MOST], n[MOST], events, amount;
    const bool rats = check_says(row->inputs, "rats");
    const size_t k = check_sample(rats ? "rat tumours" : "surgical deaths", x, MOST);
    check_sample(rats ? "rats in all" : "surgical operations", n, MOST);
    if (!rats && !check_says(row->inputs, "surgical"))
        return beta_edge(row);
    const ShrinkagePrior prior = shrinkage_beta_binomial(x, n, k);
    const CheckAnswer answer = prior_part(row, &prior);
    if (answer.kind != CHECK_NOT_MINE)
        return answer;
    if (!unit_of(row, x, n, k, &events, &amount))
        return check_not_mine();
    return check_part(
        row, shrinkage_beta_posterior(&prior, events, amount, check_confidence(row), NULL));
}

static CheckAnswer gamma_row(const CheckRow *row) {
    double x[MOST], t[MOST], events, exposure;
    if (!check_says(row->inputs, "pump") && !check_says(row->method, "pump"))
        return check_not_mine();
    const size_t k = check_sample("pump failures", x, MOST);
    check_sample("pump times", t, MOST);
    const ShrinkagePrior prior = shrinkage_gamma_poisson(x, t, k);
    const CheckAnswer answer = prior_part(row, &prior);
    if (answer.kind != CHECK_NOT_MINE)
        return answer;
    if (!unit_of(row, x, t, k, &events, &exposure))
        return check_not_mine();
    return check_part(
        row, shrinkage_gamma_posterior(&prior, events, exposure, check_confidence(row), NULL));
}

// The first 70 experiments: those before the current one.
static CheckAnswer rats_before(const CheckRow *row) {
    double x[MOST], n[MOST];
    size_t k = check_sample("rat tumours", x, MOST);
    check_sample("rats in all", n, MOST);
    if (!check_says(row->inputs, "rats") || k < 2)
        return check_not_mine();
    k = check_says(row->inputs, "1-70") ? k - 1 : k;
    for (size_t i = 0; i < k; i++)
        x[i] /= n[i];
    const double mean = summary_mean(x, k), sd = summary_sd(x, k);
    if (strcmp(row->quantity, "mean") == 0)
        return check_number(mean);
    if (strcmp(row->quantity, "SD") == 0)
        return check_number(sd);
    const ShrinkagePrior prior = shrinkage_beta_moments(mean, sd);
    return prior_part(row, &prior);
}

const CheckMethod published_units[] = {
    {"*funnel limit*", funnel_limit},
    {"in-control unit outside*", funnel_outside},
    {"overall proportion*", surgical_row},
    {"dispersion X2*", surgical_row},
    {"phi *", surgical_row},
    {"additive tau^2*", surgical_row},
    {"naive z*", surgical_row},
    {"z with *overdispersion*", surgical_row},
    {"mid-P two-sided, hospital*", surgical_row},
    {"funnel*", funnel_edge},
    {"overdispersion*", funnel_edge},
    {"winsorising*", funnel_edge},
    {"DL *", pooled_row},
    {"PM *", pooled_row},
    {"Cochran Q*", pooled_row},
    {"I^2*", pooled_row},
    {"DerSimonian-Laird*", pooled_edge},
    {"Paule-Mandel*", pooled_edge},
    {"indirect standardi*", selvin},
    {"*SMR*", observed_expected},
    {"O/E*", observed_expected},
    {"beta-binomial*", beta_row},
    {"empirical-Bayes*", beta_row},
    {"EB posterior*", beta_row},
    {"EB posterior*", gamma_row},
    {"gamma-Poisson*", gamma_row},
    {"unweighted mean of*", rats_before},
    {"SD of * proportions*", rats_before},
    {"method-of-moments*", rats_before},
    {NULL, NULL},
};
