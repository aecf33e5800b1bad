// SPDX-License-Identifier: GPL-3.0-or-later
// Published values for logistic regression, Firth's fit, expected counts from it, and trends.
#include "published.h"
#include "published_csv.h"
#include "stats/calibration.h"
#include "stats/distribution.h"
#include "stats/expected.h"
#include "stats/logistic.h"
#include "stats/trend.h"

#include <glib.h>
#include <math.h>
#include <string.h>

enum { MOST = 400, MOST_COLUMNS = 12 };

// Data of a row, its terms named as R names them.
typedef struct {
    double design[MOST * MOST_COLUMNS], events[MOST], trials[MOST];
    const char *terms[MOST_COLUMNS];
    char group[MOST][16]; // of birthwt: the race, whose part as a unit some rows take
    size_t rows, columns;
} Model;

static LogisticData data_of(const Model *m) {
    return (LogisticData){m->design, m->events, m->trials, m->rows, m->columns, NULL, 0};
}

static void add_row(Model *m, double events, double trials, const double *covariates) {
    m->events[m->rows] = events;
    m->trials[m->rows] = trials;
    memcpy(m->design + m->rows++ * m->columns, covariates, m->columns * sizeof *covariates);
}

// low ~ age + lwt + race + smoke + ptd + ht + ui + ftv; for expected counts of a race as a unit
// without race and without ftv.
static bool birthwt(Model *m, bool whole) {
    static const char *const terms[] = {"int",       "age",       "lwt",     "raceblack",
                                        "raceother", "smokeTRUE", "ptdTRUE", "htTRUE",
                                        "uiTRUE",    "ftv1",      "ftv2+"};
    g_autoptr(GPtrArray) rows = published_csv_read(PUBLISHED_DIR "/data/birthwt.csv", 9);
    if (rows == NULL)
        return false;
    m->rows = 0;
    m->columns = whole ? 11 : 7;
    for (size_t j = 0; j < m->columns; j++)
        m->terms[j] = terms[j >= 3 && !whole ? j + 2 : j];
    for (guint i = 1; i < rows->len; i++) {
        char **c = rows->pdata[i];
        double x[11] = {1, g_ascii_strtod(c[1], NULL), g_ascii_strtod(c[2], NULL)};
        size_t at = 3;
        if (whole) {
            x[at++] = strcmp(c[3], "black") == 0;
            x[at++] = strcmp(c[3], "other") == 0;
        }
        for (int j = 4; j < 8; j++)
            x[at++] = g_ascii_strtod(c[j], NULL);
        x[at++] = strcmp(c[8], "1") == 0;
        x[at++] = strcmp(c[8], "2+") == 0;
        g_strlcpy(m->group[m->rows], c[3], sizeof m->group[0]);
        add_row(m, g_ascii_strtod(c[0], NULL), 1, x);
    }
    return true;
}

// sex * log2 dose (lethal doses: sex + log2 dose), females the base, 20 moths each.
static void budworm(Model *m, bool parallel) {
    static const char *const terms[] = {"int", "sexM", "ldose", "sexMldose"};
    double dead[6];
    m->rows = 0;
    m->columns = parallel ? 3 : 4;
    memcpy(m->terms, terms, sizeof terms);
    for (int male = 1; male >= 0; male--) {
        check_sample(male == 1 ? "budworm males" : "budworm females", dead, 6);
        for (int dose = 0; dose < 6; dose++)
            add_row(m, dead[dose], 20, (double[]){1, male, dose, male * dose});
    }
}

static void endometrial(Model *m) {
    static const char *const terms[] = {"int", "NV", "PI", "EH"};
    double column[4][MOST];
    m->columns = 4;
    memcpy(m->terms, terms, sizeof terms);
    size_t n = check_column("endometrial", "HG", column[0], MOST);
    for (int j = 1; j < 4; j++)
        check_column("endometrial", terms[j], column[j], MOST);
    m->rows = 0;
    for (size_t i = 0; i < n; i++)
        add_row(m, column[0][i], 1, (double[]){1, column[1][i], column[2][i], column[3][i]});
}

// `x=1..6 y=000111`.
static bool digits(const CheckRow *row, Model *m) {
    const char *y = strstr(row->inputs, "y=");
    if (y == NULL || strstr(row->inputs, "x=1..") == NULL)
        return false;
    m->columns = 2;
    m->terms[0] = "intercept";
    m->terms[1] = "slope";
    m->rows = 0;
    for (y += 2; g_ascii_isdigit(*y); y++)
        add_row(m, *y - '0', 1, (double[]){1, (double)m->rows + 1});
    return true;
}

// `0/20 v 7/25`: two risks and their log odds ratio.
static bool two_risks(const CheckRow *row, Model *m) {
    double events[2], trials[2];
    if (check_fractions(row->inputs, events, trials, 2) != 2)
        return false;
    m->columns = 2;
    m->terms[0] = "intercept";
    m->terms[1] = "log OR";
    m->rows = 0;
    for (int i = 0; i < 2; i++)
        add_row(m, events[i], trials[i], (double[]){1, i});
    return true;
}

// Edges told in words: `0 of 10`; a column twice another; a level that no row has.
static bool edges(const CheckRow *row, Model *m) {
    bool twice = check_says(row->inputs, "x2 = 2 x1"), empty = check_says(row->inputs, "no rows");
    double v[2];
    m->rows = 0;
    m->columns = twice || empty ? 3 : 1;
    m->terms[0] = "intercept";
    m->terms[1] = "x1";
    m->terms[2] = twice ? "x2" : "coefficient";
    for (int i = 0; i < 6 && (twice || empty); i++)
        add_row(m, i % 3, 4, (double[]){1, i, twice ? 2 * i : 0});
    if (!twice && !empty && check_says(row->inputs, " of ") &&
        check_numbers(row->inputs, v, 2) == 2)
        add_row(m, v[0], v[1], (double[]){1});
    return m->rows > 0;
}

static bool read_model(const CheckRow *row, Model *m) {
    if (check_says(row->inputs, "birthwt"))
        return birthwt(m, true);
    if (check_says(row->inputs, "budworm"))
        budworm(m, strstr(row->inputs, "LD50") != NULL || strstr(row->method, "LD50") != NULL);
    else if (check_says(row->inputs, "endometrial"))
        endometrial(m);
    else
        return digits(row, m) || two_risks(row, m) || edges(row, m);
    return m->rows > 0;
}

// The term that a quantity names, or the last word of the inputs before any bracket; else the last.
static size_t term_of(const CheckRow *row, const Model *m) {
    if (check_says(row->inputs, "intercept"))
        return 0;
    g_autofree char *inputs = g_strdup(row->inputs);
    inputs[strcspn(inputs, "(")] = '\0';
    g_strchomp(inputs);
    const char *word = strrchr(inputs, ' ');
    word = word == NULL ? inputs : word + 1;
    for (size_t j = m->columns; j-- > 0;)
        if (g_str_has_suffix(row->quantity, m->terms[j]))
            return j;
    for (size_t j = 0; j < m->columns; j++)
        if (strcmp(word, m->terms[j]) == 0)
            return j;
    return m->columns - 1;
}

// Brier, c-statistic and the sum of the fitted risks.
static CheckAnswer of_risks(const CheckRow *row, const Model *m, const double *b) {
    double risk[MOST], sum = 0;
    for (size_t i = 0; i < m->rows; i++) {
        risk[i] = logistic_risk(b, m->design + i * m->columns, m->columns);
        sum += m->trials[i] * risk[i];
    }
    if (check_says(row->method, "Brier"))
        return check_number(calibration_brier(risk, m->events, m->trials, m->rows));
    if (check_says(row->method, "sum of fitted"))
        return check_number(sum);
    return check_number(calibration_c_statistic(risk, m->events, m->trials, m->rows));
}

// Dose at which half die, -a/b on the log2 scale, of one sex; Venables & Ripley 2002, 7.2.
static CheckAnswer half_dose(const CheckRow *row, const double *b, const double *v) {
    double m = check_says(row->inputs, "budworm M") ? 1 : 0;
    double dose = -(b[0] + m * b[1]) / b[2], variance = 0;
    double by[] = {1, m, dose}; // derivative, times -slope
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            variance += by[i] * by[j] * v[i * 3 + j];
    return check_number(strstr(row->quantity, "SE") != NULL ? sqrt(variance) / fabs(b[2]) : dose);
}

static CheckAnswer regression(const CheckRow *row) {
    static Model m;
    double b[MOST_COLUMNS], v[MOST_COLUMNS * MOST_COLUMNS];
    if (!read_model(row, &m))
        return check_not_mine();
    LogisticData data = data_of(&m);
    bool firth = check_says(row->method, "Firth");
    LogisticFit fit = firth ? logistic_firth(&data, b, v) : logistic_fit(&data, b, v);
    bool separated = check_says(row->method, "limit") || check_says(row->method, "diverges");
    if (fit.status != (separated ? LOGISTIC_SEPARATED : LOGISTIC_CONVERGED) &&
        strcmp(row->method, "logistic") != 0)
        return check_text("not as it should end");
    if (strcmp(row->quantity, "AIC") == 0)
        return check_number(2 * (double)fit.parameters - 2 * fit.log_likelihood);
    if (strcmp(row->quantity, "loglik") == 0)
        return check_number(fit.log_likelihood);
    if (strcmp(row->quantity, "df") == 0)
        return check_number(fit.df);
    if (check_says(row->quantity, "deviance"))
        return check_number(check_says(row->method, "null") ? fit.null_deviance : fit.deviance);
    if (check_says(row->method, "Brier") || check_says(row->method, "sum of fitted") ||
        check_says(row->method, "c-statistic") || check_says(row->method, "AUC") ||
        check_says(row->method, "concordance"))
        return of_risks(row, &m, b);
    if (strstr(row->inputs, "LD50") != NULL || strstr(row->method, "LD50") != NULL)
        return half_dose(row, b, v);
    size_t j = term_of(row, &m);
    double variance = v[j * m.columns + j];
    if (strcmp(row->quantity, "SE") == 0)
        return check_number(sqrt(variance));
    if (check_says(row->quantity, "OR") && check_says(row->quantity, "odds"))
        return check_number(exp(b[j]));
    return check_part(row, firth && check_says(row->method, "profile")
                               ? logistic_firth_limits(&data, j, check_confidence(row))
                               : logistic_wald(b[j], variance, check_confidence(row)));
}

// A race of birthwt as if it were a unit: expected from a model without race.
static CheckAnswer case_mix(const CheckRow *row) {
    static Model m;
    double b[MOST_COLUMNS], observed = 0, expected = 0;
    const char *race = strstr(row->inputs, "race ");
    if (!check_says(row->inputs, "birthwt") || race == NULL || !birthwt(&m, false))
        return check_not_mine();
    LogisticData data = data_of(&m);
    if (logistic_fit(&data, b, NULL).status != LOGISTIC_CONVERGED)
        return check_text("not converged");
    for (size_t i = 0; i < m.rows; i++)
        if (strcmp(m.group[i], race + strlen("race ")) == 0) {
            observed += m.events[i];
            expected += logistic_risk(b, m.design + i * m.columns, m.columns);
        }
    if (strcmp(row->quantity, "E") == 0)
        return check_number(expected);
    if (strcmp(row->quantity, "O") == 0)
        return check_number(observed);
    return check_part(row, expected_ratio(observed, expected, check_confidence(row)));
}

// ---- trends ----

typedef struct {
    double events[MOST], exposure[MOST];
    size_t k;
    bool exposed;
} Periods;

// The quarters by name, `exposures` after that word, or counts written out after `counts`.
static bool read_periods(const CheckRow *row, Periods *p) {
    const char *exposures = strstr(row->inputs, "exposures ");
    p->k = 0;
    p->exposed = exposures != NULL;
    if (check_says(row->inputs, "14 quarterly"))
        p->k = check_sample("AIDS deaths", p->events, MOST);
    else if (check_says(row->inputs, "all counts 0"))
        while (p->k < 6)
            p->events[p->k++] = 0;
    else if (check_says(row->inputs, "counts "))
        p->k = check_values(strstr(row->inputs, "counts "), p->events, MOST);
    if (p->exposed && check_numbers(exposures, p->exposure, MOST) != p->k)
        return false;
    return p->k > 0;
}

// `two periods`: the slope is the log of the ratio, phi is not to be had; and phi below 1 widens
// nothing.
static CheckAnswer trend_edges(const CheckRow *row) {
    double two[] = {12, 30}, steady[] = {10, 10, 11, 10, 9, 10};
    if (check_says(row->inputs, "two periods")) {
        TrendFit fit = trend_poisson(two, NULL, NULL, 2);
        bool same = fabs(fit.slope - log(30.0 / 12)) < 1e-14 && isnan(fit.phi);
        return check_text(same ? "log ratio" : "another slope");
    }
    if (!check_says(row->inputs, "phi < 1"))
        return check_not_mine();
    TrendFit fit = trend_poisson(steady, NULL, NULL, 6);
    StatsInterval plain = trend_ratio(&fit, 0.95), wide = trend_ratio_scaled(&fit, 0.95, NULL);
    bool same = fit.phi < 1 && plain.lower == wide.lower && plain.upper == wide.upper;
    return check_text(same ? "Poisson SE" : "another SE");
}

static CheckAnswer poisson_trend(const CheckRow *row) {
    static Periods p;
    double x2, chance;
    if (!read_periods(row, &p))
        return trend_edges(row);
    const double *exposure = p.exposed ? p.exposure : NULL;
    TrendFit fit = trend_poisson(p.events, exposure, NULL, p.k);
    if (check_says(row->method, "score")) {
        x2 = trend_score(p.events, exposure, NULL, p.k, &chance);
        return check_number(row->quantity[0] == 'p' ? chance : x2);
    }
    bool quasi = check_says(row->method, "quasi");
    if (check_says(row->quantity, "deviance"))
        return check_number(check_says(row->method, "null") ? fit.null_deviance : fit.deviance);
    if (strcmp(row->quantity, "loglik") == 0)
        return check_number(fit.log_likelihood);
    if (strcmp(row->quantity, "phi") == 0)
        return check_number(fit.phi);
    if (strcmp(row->quantity, "intercept") == 0)
        return check_number(strstr(row->method, "SE") != NULL ? fit.intercept_error
                                                              : fit.intercept);
    if (strcmp(row->quantity, "SE") == 0) {
        double error = check_says(row->method, "intercept") ? fit.intercept_error : fit.slope_error;
        return check_number(error * (quasi ? sqrt(fmax(1, fit.phi)) : 1));
    }
    if (strcmp(row->quantity, "z") == 0)
        return check_number(fit.slope / fit.slope_error);
    if (row->quantity[0] == 'p') {
        trend_ratio_scaled(&fit, 0.95, &chance);
        double plain = distribution_normal_two_sided(fit.slope / fit.slope_error);
        return check_number(quasi ? chance : plain);
    }
    if (check_says(row->method, "ratio"))
        return check_part(row, quasi ? trend_ratio_scaled(&fit, check_confidence(row), NULL)
                                     : trend_ratio(&fit, check_confidence(row)));
    return check_number(fit.slope);
}

static CheckAnswer deviance(const CheckRow *row) {
    return check_says(row->inputs, "quarterly") ? poisson_trend(row) : regression(row);
}

const CheckMethod published_regressions[] = {
    {"*logistic*", regression},
    {"Firth*", regression},
    {"ML *", regression},
    {"AIC", regression},
    {"Brier*", regression},
    {"c-statistic*", regression},
    {"*AUC*", regression},
    {"concordance*", regression},
    {"*LD50*", regression},
    {"sum of fitted*", regression},
    {"delta-method SE", regression},
    {"residual deviance*", deviance},
    {"null deviance*", deviance},
    {"case-mix expected*", case_mix},
    {"O/E*", case_mix},
    {"*Poisson log-linear*", poisson_trend},
    {"*Poisson trend*", poisson_trend},
    {"Poisson score test*", poisson_trend},
    {"kernel log-likelihood*", poisson_trend},
    {"Pearson dispersion*", poisson_trend},
    {"quasi-Poisson*", poisson_trend},
    {"rate ratio per*", poisson_trend},
    {NULL, NULL},
};
