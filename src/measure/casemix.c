// SPDX-License-Identifier: GPL-3.0-or-later
// The case-mix model: records put together by pattern of factors, fitted, and summed up by unit.
#include "measure/casemix.h"

#include "measure/judged.h"
#include "stats/distribution.h"
#include "stats/expected.h"
#include "stats/logistic.h"
#include "stats/poisson_binomial.h"
#include "stats/proportion.h"

#include <math.h>
#include <string.h>

// A factor is a field, or the journey's length (FIELD_COUNT).
enum { MOST_FACTORS = 9, MOST_ONES = MOST_FACTORS + 1, MOST_LEVELS = 32, MOST_EXACT = 50000 };
#define JOURNEY FIELD_COUNT

// What of a unit's distribution is left away at first, and p above which that is good enough.
enum { TIMES = 4 };
static const double least[TIMES] = {1e-30, 1e-45, 1e-110, 1e-290},
                    enough[TIMES] = {INFINITY, 1e-7, 1e-19, 1e-84};

static const double tails[] = {0.001, 0.025, 0.975, 0.999};
static const char *const journeys[] = {"unknown", "under-30", "30-59", "60-119", "120-or-more"};

typedef struct {
    FieldId field[MOST_FACTORS];
    unsigned n;
} Factors;

static const Factors reduced_factors = {
    {FIELD_age_band, FIELD_care_level, FIELD_ventilated, FIELD_urgency}, 4};
static const Factors event_factors = {{FIELD_age_band, FIELD_sex, FIELD_care_level,
                                       FIELD_ventilated, FIELD_vasoactive, FIELD_urgency,
                                       FIELD_condition, JOURNEY, FIELD_out_of_hours},
                                      9};
static const Factors departure_factors = {{FIELD_age_band, FIELD_sex, FIELD_care_level,
                                           FIELD_ventilated, FIELD_vasoactive, FIELD_urgency,
                                           FIELD_condition, FIELD_requested_hour},
                                          8};

// ---- records ----

typedef struct {
    uint8_t level[MOST_FACTORS];
} Pattern;

typedef struct {
    const CountData *data;
    const Factors *factors;
    int32_t longest_journey;
    GArray *patterns;                    // Pattern, in the order in which records have them first
    GArray *events, *trials;             // double, by pattern
    size_t n;                            // judged records
    uint32_t *row_of_record, *of_record; // its row, its pattern
    uint16_t *place_of_record;
    uint8_t *event_of_record; // number of events, 0 or 1
    double observed[2];       // non-events, events
} Records;

static uint8_t journey_level(const Records *r, size_t row) {
    const int32_t minutes =
        transfers_between(transfers_times(r->data->t, FIELD_departed_at)[row],
                          transfers_times(r->data->t, FIELD_arrived_at)[row], r->longest_journey);
    return minutes < 0 ? 0 : minutes < 30 ? 1 : minutes < 60 ? 2 : minutes < 120 ? 3 : 4;
}

static void add_record(void *user, size_t row, unsigned place, const CountRecord *record) {
    Records *r = user;
    if (record->state != COUNT_IN)
        return;
    r->row_of_record[r->n] = (uint32_t)row;
    r->place_of_record[r->n] = (uint16_t)place;
    r->event_of_record[r->n] = record->events > 0;
    r->observed[record->events > 0]++;
    r->n++;
}

// Divides the patterns that the factors before have made by the level of one more: the new ones are
// numbered as they first come.
static void divide(Records *r, unsigned factor) {
    const uint32_t *row = r->row_of_record;
    uint32_t *of = r->of_record;
    const FieldId field = r->factors->field[factor];
    const uint8_t *code = field == JOURNEY ? NULL : transfers_codes(r->data->t, field);
    const size_t levels =
        field == JOURNEY ? G_N_ELEMENTS(journeys) : field_table[field].codes->n + 1u;
    guint *number = g_new0(guint, r->patterns->len * levels); // + 1
    GArray *finer = g_array_new(FALSE, FALSE, sizeof(Pattern));
    for (size_t i = 0; i < r->n; i++) {
        const uint8_t level = code ? code[row[i]] : journey_level(r, row[i]);
        guint *own = &number[of[i] * levels + level];
        if (*own == 0) {
            Pattern p = g_array_index(r->patterns, Pattern, of[i]);
            p.level[factor] = level;
            g_array_append_val(finer, p);
            *own = finer->len;
        }
        of[i] = *own - 1;
    }
    g_free(number);
    g_array_unref(r->patterns);
    r->patterns = finer;
}

static void add_up_patterns(Records *r) {
    g_array_set_size(r->events, r->patterns->len);
    g_array_set_size(r->trials, r->patterns->len);
    for (size_t i = 0; i < r->n; i++) {
        g_array_index(r->events, double, r->of_record[i]) += r->event_of_record[i];
        g_array_index(r->trials, double, r->of_record[i]) += 1;
    }
}

static Records records_of(const CountData *data, const Indicator *in, const Factors *factors) {
    const size_t most = data->t->n + 1;
    Records r = {
        .data = data,
        .factors = factors,
        .longest_journey = network_cap(data->network, FIELD_departed_at, FIELD_arrived_at),
        .patterns = g_array_new(FALSE, FALSE, sizeof(Pattern)),
        .events = g_array_new(FALSE, TRUE, sizeof(double)),
        .trials = g_array_new(FALSE, TRUE, sizeof(double)),
        .row_of_record = g_new(uint32_t, most),
        .of_record = g_new0(uint32_t, most), // all of one pattern yet
        .place_of_record = g_new(uint16_t, most),
        .event_of_record = g_new(uint8_t, most),
    };
    const Pattern none = {{0}};
    judged_each(data, in, add_record, &r);
    if (r.n > 0)
        g_array_append_val(r.patterns, none);
    for (unsigned f = 0; f < factors->n; f++)
        divide(&r, f);
    add_up_patterns(&r);
    g_clear_pointer(&r.row_of_record, g_free);
    return r;
}

static void records_clear(Records *r) {
    g_array_unref(r->patterns);
    g_array_unref(r->events);
    g_array_unref(r->trials);
    g_free(r->of_record);
    g_free(r->place_of_record);
    g_free(r->event_of_record);
}

// ---- columns: an intercept, then every level that occurs but the commonest of its factor ----

typedef struct {
    double records[MOST_FACTORS][MOST_LEVELS], events[MOST_FACTORS][MOST_LEVELS];
    int column[MOST_FACTORS][MOST_LEVELS]; // 0: the reference, -1: does not occur
    size_t columns;
} Columns;

static void count_levels(const Records *r, Columns *c) {
    for (guint i = 0; i < r->patterns->len; i++)
        for (unsigned f = 0; f < r->factors->n; f++) {
            const uint8_t level = g_array_index(r->patterns, Pattern, i).level[f];
            c->records[f][level] += g_array_index(r->trials, double, i);
            c->events[f][level] += g_array_index(r->events, double, i);
        }
}

static void number_columns(const Records *r, Columns *c) {
    memset(c, 0, sizeof *c);
    count_levels(r, c);
    c->columns = 1;
    for (unsigned f = 0; f < r->factors->n; f++) {
        unsigned common = 0;
        for (unsigned l = 1; l < MOST_LEVELS; l++)
            if (c->records[f][l] > c->records[f][common])
                common = l;
        for (unsigned l = 0; l < MOST_LEVELS; l++)
            c->column[f][l] = l == common ? 0 : c->records[f][l] > 0 ? (int)c->columns++ : -1;
    }
}

// The columns that are 1 for each pattern, MOST_ONES places each.
static uint16_t *ones_of(const Records *r, const Columns *c) {
    uint16_t *ones = g_new(uint16_t, (size_t)r->patterns->len * MOST_ONES + 1);
    for (guint i = 0; i < r->patterns->len; i++) {
        uint16_t *row = ones + (size_t)i * MOST_ONES;
        unsigned n = 0;
        row[n++] = 0;
        for (unsigned f = 0; f < r->factors->n; f++) {
            const int at = c->column[f][g_array_index(r->patterns, Pattern, i).level[f]];
            if (at > 0)
                row[n++] = (uint16_t)at;
        }
        while (n < MOST_ONES)
            row[n++] = (uint16_t)c->columns;
    }
    return ones;
}

// ---- fitting ----

typedef struct {
    Records *r;
    Columns c;
    uint16_t *ones;                           // of each pattern
    double *coefficients, *covariance, *risk; // risk by pattern
} Fit;

static void fit_clear(Fit *f) {
    g_free(f->ones);
    g_free(f->coefficients);
    g_free(f->covariance);
    g_free(f->risk);
}

// The shift of the intercept at which expected equals observed; risks are kept as log odds until
// then.
typedef struct {
    const Records *r;
    const double *log_odds;
} Shift;

static void shifted(double shift, const void *context, double *value, double *slope) {
    const Shift *s = context;
    *value = -s->r->observed[1];
    *slope = 0;
    for (guint i = 0; i < s->r->patterns->len; i++) {
        const double risk = 1 / (1 + exp(-s->log_odds[i] - shift));
        const double n = g_array_index(s->r->trials, double, i);
        *value += n * risk;
        *slope += n * risk * (1 - risk);
    }
}

static void set_risks(Fit *f, const LogisticData *d, bool firth) {
    const guint n = f->r->patterns->len;
    f->risk = g_new(double, n + 1);
    for (guint i = 0; i < n; i++)
        f->risk[i] = logistic_risk_of(f->coefficients, d, i);
    if (!firth)
        return;
    for (guint i = 0; i < n; i++)
        f->risk[i] = log(f->risk[i]) - log1p(-f->risk[i]);
    const Shift s = {f->r, f->risk};
    const double shift = distribution_root(shifted, &s, 0);
    for (guint i = 0; i < n; i++)
        f->risk[i] = 1 / (1 + exp(-f->risk[i] - shift));
}

static bool fit(Fit *f, Casemix *m) {
    const LogisticData d = {NULL,
                            (double *)(void *)f->r->events->data,
                            (double *)(void *)f->r->trials->data,
                            f->r->patterns->len,
                            f->c.columns,
                            f->ones,
                            MOST_ONES};
    f->coefficients = g_new(double, f->c.columns);
    f->covariance = g_new(double, f->c.columns * f->c.columns);
    LogisticFit done = logistic_fit_unseparated(&d, f->coefficients, f->covariance);
    m->firth = done.status == LOGISTIC_SEPARATED || done.status == LOGISTIC_NOT_CONVERGED;
    if (m->firth)
        done = logistic_firth(&d, f->coefficients, f->covariance);
    if (done.status != LOGISTIC_CONVERGED)
        return false;
    set_risks(f, &d, m->firth);
    return true;
}

// ---- what comes of it ----

static void free_term(gpointer data) {
    CasemixTerm *t = data;
    g_free(t->factor);
    g_free(t->level);
    g_free(t);
}

static const char *level_name(FieldId field, unsigned level) {
    return field == JOURNEY ? journeys[level] : field_code_text(field_table[field].codes, level);
}

static void add_terms(const Fit *f, Casemix *m, double confidence) {
    const Factors *factors = f->r->factors;
    for (unsigned k = 0; k < factors->n; k++)
        for (unsigned l = 1; l <= MOST_LEVELS; l++) { // `unknown`, level 0, comes last
            const unsigned level = l % MOST_LEVELS;
            const int at = f->c.column[k][level];
            if (at < 0)
                continue;
            const FieldId field = factors->field[k];
            CasemixTerm *t = g_new0(CasemixTerm, 1);
            t->factor = g_strdup(field == JOURNEY ? "journey_class" : field_table[field].name);
            t->level = g_strdup(level_name(field, level));
            t->records = f->c.records[k][level];
            t->events = f->c.events[k][level];
            t->odds_ratio = (StatsInterval){1, NAN, NAN};
            if (at > 0) {
                const size_t j = (size_t)at;
                const StatsInterval i = logistic_wald(
                    f->coefficients[j], f->covariance[j * f->c.columns + j], confidence);
                t->odds_ratio = (StatsInterval){exp(i.estimate), exp(i.lower), exp(i.upper)};
            }
            g_ptr_array_add(m->terms, t);
        }
}

// The exact distribution of a unit's count, or beyond MOST_EXACT records the normal one.
static void judge_unit(CasemixUnit *u, const double *risk, size_t n) {
    const double sd = sqrt(u->variance);
    if (n > MOST_EXACT) {
        u->p = distribution_normal_two_sided((u->observed - u->expected) / sd);
        for (int i = 0; i < 4; i++)
            u->limit[i] = fmax(0, 1 + distribution_normal_quantile(tails[i]) * sd / u->expected);
        return;
    }
    double *points = g_new(double, n + 1);
    bool good = n > 0;
    u->p = NAN;
    // farther out only where the count is there: n^2 of what is left away is nothing beside p
    for (int i = 0; i < TIMES && good && !(u->p > enough[i]); i++) {
        good = poisson_binomial_part(risk, n, least[i], points);
        u->p = good ? expected_p(points, n, (size_t)u->observed) : NAN;
    }
    for (int i = 0; i < 4; i++)
        u->limit[i] = good ? expected_limit(points, n, u->expected, tails[i]) : NAN;
    g_free(points);
}

static void sum_units(const Fit *f, Casemix *m) {
    const Records *r = f->r;
    double **risk = g_new0(double *, m->units);
    size_t *count = g_new0(size_t, m->units);
    for (size_t i = 0; i < r->n; i++)
        count[r->place_of_record[i]]++;
    for (guint u = 0; u < m->units; u++) {
        risk[u] = g_new(double, count[u] + 1);
        count[u] = 0;
    }
    for (size_t i = 0; i < r->n; i++) {
        const uint16_t place = r->place_of_record[i];
        CasemixUnit *u = &m->unit[place];
        const double p = f->risk[r->of_record[i]];
        risk[place][count[place]++] = p;
        u->observed += r->event_of_record[i];
        u->expected += p;
        u->variance += p * (1 - p);
    }
    for (guint u = 1; u < m->units; u++) {
        judge_unit(&m->unit[u], risk[u], count[u]);
        m->unit[0].observed += m->unit[u].observed;
        m->unit[0].expected += m->unit[u].expected;
        m->unit[0].variance += m->unit[u].variance;
    }
    for (guint u = 0; u < m->units; u++)
        g_free(risk[u]);
    g_free(risk);
    g_free(count);
}

static void describe(const Fit *f, Casemix *m, double confidence) {
    const double *events = (double *)(void *)f->r->events->data;
    const double *trials = (double *)(void *)f->r->trials->data;
    const size_t n = f->r->patterns->len;
    m->groups =
        calibration_groups(f->risk, events, trials, n, CASEMIX_GROUPS, m->group, &m->c_statistic);
    for (size_t k = 0; k < m->groups; k++)
        m->seen[k] = proportion_wilson(m->group[k].events, m->group[k].trials, confidence);
    add_terms(f, m, confidence);
}

// ---- the model as a whole ----

static bool is_departure(const Indicator *in) {
    return !strcmp(in->name, "departed_in_time_share");
}

bool casemix_is(const Indicator *in) {
    return catalogue_judges(in) && in->measure == MEASURE_SHARE &&
           (is_departure(in) || !strcmp(in->name, "adverse_event_share") ||
            !strcmp(in->name, "harm_share"));
}

// Events a parameter, the rarer outcome counting.
static double events_each(const Records *r, const Columns *c) {
    return MIN(r->observed[0], r->observed[1]) / (double)MAX(c->columns - 1, 1);
}

Casemix *casemix_fit(const CountData *data, const Indicator *in, double confidence) {
    Casemix *m = g_new0(Casemix, 1);
    m->c_statistic = NAN;
    m->units = data->units->len;
    m->unit = g_new0(CasemixUnit, m->units);
    m->terms = g_ptr_array_new_with_free_func(free_term);
    Records r = records_of(data, in, is_departure(in) ? &departure_factors : &event_factors);
    Fit f = {.r = &r};
    number_columns(&r, &f.c);
    if (events_each(&r, &f.c) < CASEMIX_FEWEST) {
        records_clear(&r);
        r = records_of(data, in, &reduced_factors);
        number_columns(&r, &f.c);
        m->reduced = true;
        m->reason = "fewer than 10 events a parameter for all factors";
    }
    m->records = (double)r.n;
    m->events = r.observed[1];
    m->parameters = (double)f.c.columns - 1;
    if (events_each(&r, &f.c) < CASEMIX_REFUSED) {
        m->reason = "fewer than 5 events a parameter";
    } else {
        f.ones = ones_of(&r, &f.c);
        m->fitted = fit(&f, m);
        m->reason = m->fitted ? m->reason : "the fit did not converge";
    }
    if (m->fitted) {
        describe(&f, m, confidence);
        sum_units(&f, m);
    }
    fit_clear(&f);
    records_clear(&r);
    return m;
}

void casemix_free(Casemix *m) {
    if (!m)
        return;
    g_ptr_array_unref(m->terms);
    g_free(m->unit);
    g_free(m);
}
