// SPDX-License-Identifier: GPL-3.0-or-later
// Published values for censored times: survival, its quantiles, log-rank tests, cumulative
// incidence.
#include "published.h"
#include "published_csv.h"
#include "stats/incidence.h"
#include "stats/logrank.h"
#include "stats/survival.h"

#include <glib.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 1500 };

// Subjects of a row: end 0 is censored. group and stratum are numbered in the order they occur.
typedef struct {
    double times[MOST];
    bool event[MOST];
    unsigned end[MOST];
    size_t group[MOST], stratum[MOST], n, groups, strata, wanted; // wanted: the group named
} Subjects;

// ---- data beside the checks ----

// A row names a set by one of these words; the event is coded 1 unless told, groups are those of
// the column unless the row names another.
typedef struct {
    const char *word, *file, *time, *event, *group;
} Set;

static const Set sets[] = {
    {"6-MP", "gehan", "time", "event", "arm"},
    {"control", "gehan", "time", "event", "arm"},
    {"aml", "aml", "time", "status", "maintained"},
    {"lung", "lung", "time", "status", "sex"},
    {"ovarian", "ovarian", "futime", "fustat", "rx"},
    {"mgus2", "mgus2", "etime", "event", "sex"},
    {"transplant", "transplant", "futime", "event", "abo"},
};

static const char *const ends[][2] = {{"ltx", "2"}, {"death", "1"}, {"withdraw", "3"}};

static const Set *set_of(const CheckRow *row) {
    for (size_t i = 0; i < G_N_ELEMENTS(sets); i++)
        if (check_says(row->inputs, sets[i].word))
            return &sets[i];
    return NULL;
}

static int column_of(char **header, const char *name) {
    for (int i = 0; header[i] != NULL; i++)
        if (strcmp(header[i], name) == 0)
            return i;
    return -1;
}

// The value that `text` gives a column as `column=value`, or for arms and maintained in words.
static bool value_named(const char *text, const char *column, char *value, size_t size) {
    const char *at = strstr(text, column);
    while (at != NULL && at[strlen(column)] != '=')
        at = strstr(at + 1, column);
    if (at == NULL) {
        bool arm = strcmp(column, "arm") == 0 && strstr(text, " v ") == NULL;
        bool kept = strcmp(column, "maintained") == 0 && strstr(text, " v ") == NULL;
        const char *word = arm && check_says(text, "6-MP")             ? "6-MP"
                           : arm && check_says(text, "control")        ? "control"
                           : kept && check_says(text, "Nonmaintained") ? "0"
                           : kept && check_says(text, "Maintained")    ? "1"
                                                                       : NULL;
        if (word != NULL)
            g_strlcpy(value, word, size);
        return word != NULL;
    }
    at += strlen(column) + 1;
    size_t length = strcspn(at, ", ");
    g_strlcpy(value, at, MIN(size, length + 1));
    return true;
}

static unsigned end_code(const char *cell, const char *file) {
    for (size_t i = 0; i < G_N_ELEMENTS(ends); i++)
        if (strcmp(cell, ends[i][0]) == 0)
            return (unsigned)atoi(ends[i][1]);
    if (strcmp(file, "lung") == 0) // 1 is censored, 2 died
        return strcmp(cell, "2") == 0;
    return (unsigned)atoi(cell);
}

static bool fits(char **header, char **cells, const char *text, const char *but) {
    char value[32];
    for (int c = 0; header[c] != NULL; c++)
        if (strcmp(header[c], but) != 0 && value_named(text, header[c], value, sizeof value) &&
            strcmp(value, cells[c]) != 0)
            return false;
    return true;
}

// Number of a value in the order of occurrence; `seen` is the list of those met.
static size_t number_of(GPtrArray *seen, const char *value) {
    for (guint i = 0; i < seen->len; i++)
        if (strcmp(seen->pdata[i], value) == 0)
            return i;
    g_ptr_array_add(seen, (char *)value);
    return seen->len - 1;
}

// The subjects that fit every condition of the text; with `compared` the condition on the grouping
// column names the group wanted instead. Groups: the column of the set, or one named without a
// condition.
static bool read_set(const CheckRow *row, bool compared, Subjects *s) {
    const Set *set = set_of(row);
    if (set == NULL)
        return false;
    g_autofree char *path = g_strdup_printf("%s/data/%s.csv", PUBLISHED_DIR, set->file);
    g_autoptr(GPtrArray) rows = published_csv_read(path, 3), groups = g_ptr_array_new(),
                         strata = g_ptr_array_new();
    if (rows == NULL)
        return false;
    char **header = rows->pdata[0], value[32];
    const char *strata_word = strstr(row->inputs, "strata "), *group = set->group;
    int stratum = strata_word == NULL ? -1 : column_of(header, strata_word + strlen("strata "));
    for (int c = 0; header[c] != NULL && compared; c++)
        if (c != stratum && strstr(row->inputs, header[c]) != NULL)
            group = header[c];
    int g = column_of(header, group), t = column_of(header, set->time),
        e = column_of(header, set->event);
    s->n = s->wanted = 0;
    for (guint i = 1; i < rows->len; i++) {
        char **cells = rows->pdata[i];
        bool known = *cells[t] != '\0' && (!compared || *cells[g] != '\0') &&
                     (stratum < 0 || *cells[stratum] != '\0');
        if (!known || !fits(header, cells, row->inputs, compared ? group : ""))
            continue;
        s->times[s->n] = g_ascii_strtod(cells[t], NULL);
        s->end[s->n] = end_code(cells[e], set->file);
        s->event[s->n] = s->end[s->n] > 0;
        s->group[s->n] = number_of(groups, cells[g]);
        s->stratum[s->n] = stratum < 0 ? 0 : number_of(strata, cells[stratum]);
        if (compared && value_named(row->inputs, group, value, sizeof value) &&
            strcmp(value, cells[g]) == 0)
            s->wanted = s->group[s->n];
        s->n++;
    }
    s->groups = groups->len;
    s->strata = MAX(strata->len, 1);
    return s->n > 0;
}

// ---- subjects written out: `times 1,2,2+,3` or `times 1a 2b 3c`, c or + censored ----

static bool read_list(const char *text, Subjects *s) {
    const char *at = strstr(text, "time");
    s->n = 0;
    s->groups = s->strata = 1;
    if (at == NULL)
        return false;
    for (at += strcspn(at, " "); *at != '\0' && s->n < MOST;) {
        char *after;
        at += strspn(at, " ,;");
        double time = g_ascii_strtod(at, &after);
        if (after == at)
            break;
        unsigned end = 1;
        if (*after == '+' || *after == 'c')
            end = 0;
        else if (*after >= 'a' && *after <= 'z')
            end = (unsigned)(*after - 'a' + 1) - (*after > 'c');
        s->times[s->n] = time;
        s->end[s->n] = end;
        s->event[s->n] = end > 0;
        s->group[s->n] = s->stratum[s->n] = 0;
        s->n++;
        at = after + (*after == '+' || g_ascii_isalpha(*after));
    }
    return s->n > 0;
}

static bool read_subjects(const CheckRow *row, bool compared, Subjects *s) {
    if (check_says(row->inputs, "no subjects")) {
        s->n = 0;
        return true;
    }
    return read_set(row, compared, s) || read_list(row->inputs, s);
}

// The time asked about: `t=7`, `S(2)`, `at 120 months`, `t = 7`, `to 730 d`, `max 2055 d`.
static bool time_asked(const CheckRow *row, double *t) {
    static const char *const words[] = {" at ", " to ", "max "};
    const char *bracket = strchr(row->quantity, '(');
    if (check_key(row, "t", t) || (bracket != NULL && check_numbers(bracket, t, 1) == 1))
        return true;
    for (size_t i = 0; i < G_N_ELEMENTS(words); i++) {
        const char *in = strstr(row->inputs, words[i]);
        if (in == NULL)
            in = strstr(row->method, words[i]);
        if (in != NULL && check_numbers(in, t, 1) == 1)
            return true;
    }
    return false;
}

// ---- survival ----

static SurvivalLimits limits_of(const CheckRow *row, SurvivalLimits otherwise) {
    if (check_says(row->method, "log-log") || check_says(row->method, "log(-log"))
        return SURVIVAL_LOG_LOG;
    if (check_says(row->method, "plain") || check_says(row->method, "linear"))
        return SURVIVAL_PLAIN;
    return check_says(row->method, "(log)") || check_says(row->method, "log-transf") ? SURVIVAL_LOG
                                                                                     : otherwise;
}

static CheckAnswer restricted(const CheckRow *row, const SurvivalStep *steps, size_t count) {
    double until, error;
    if (!time_asked(row, &until))
        return check_not_mine();
    double mean = survival_mean(steps, count, until, &error);
    return check_number(strstr(row->quantity, "SE") != NULL ? error : mean);
}

static double level_of(const CheckRow *row) {
    double p;
    return check_key(row, "p", &p)                                                        ? p
           : check_says(row->quantity, "Q1") || check_says(row->method, "lower quartile") ? 0.25
           : check_says(row->quantity, "Q3") || check_says(row->method, "upper quartile") ? 0.75
                                                                                          : 0.5;
}

static CheckAnswer survival(const CheckRow *row) {
    static Subjects s;
    static SurvivalStep steps[MOST];
    size_t count;
    double t, confidence = check_confidence(row);
    if (check_says(row->inputs, "last time is an event")) {
        s.n = 3;
        memcpy(s.times, (double[]){1, 2, 3}, 3 * sizeof(double));
        memset(s.event, 1, 3 * sizeof(bool));
    } else if (check_says(row->inputs, "time -1")) {
        s.n = 1;
        s.times[0] = -1;
    } else if (!read_subjects(row, false, &s)) {
        return check_not_mine();
    }
    if (!survival_curve(s.times, s.event, s.n, steps, &count))
        return check_text("error");
    if (check_says(row->method, "restricted"))
        return restricted(row, steps, count);
    if (check_says(row->method, "median") || check_says(row->method, "quantile") ||
        check_says(row->method, "quartile") || check_says(row->quantity, "median"))
        return check_part(row, survival_quantile(steps, count, level_of(row), confidence,
                                                 limits_of(row, SURVIVAL_LOG_LOG)));
    if (!time_asked(row, &t))
        t = count == 0 ? 1 : steps[count - 1].time;
    if (check_says(row->method, "Nelson"))
        return check_number(survival_hazard(steps, count, t));
    if (strncmp(row->quantity, "SE", 2) == 0)
        return check_number(survival_error(steps, count, t));
    return check_part(row,
                      survival_at(steps, count, t, confidence, limits_of(row, SURVIVAL_LOG_LOG)));
}

// ---- tests ----

// The edges: no events, one group, a group that nobody is ever at risk in.
static bool edge_groups(const CheckRow *row, Subjects *s) {
    bool none = check_says(row->inputs, "all censored"), one = check_says(row->inputs, "one group");
    bool empty = check_says(row->inputs, "a group with E=0");
    s->n = 8;
    s->groups = one ? 1 : empty ? 3 : 2;
    s->strata = 1;
    for (size_t i = 0; i < s->n; i++) {
        s->times[i] = (double)(i + 1);
        s->event[i] = !none;
        s->group[i] = one ? 0 : i % 2;
        s->stratum[i] = 0;
    }
    if (empty) { // out of sight before the first event
        s->times[7] = 0.5;
        s->event[7] = false;
        s->group[7] = 2;
    }
    return none || one || empty;
}

// With the group that has no expected events taken out nothing but itself may change.
static CheckAnswer dropped(Subjects *s) {
    LogrankData d = {s->times, s->event, s->group, NULL, s->n, 3, 1};
    LogrankTest with = logrank_test(&d, LOGRANK_EQUAL, NULL, NULL, NULL);
    d.n--;
    d.groups = 2;
    LogrankTest without = logrank_test(&d, LOGRANK_EQUAL, NULL, NULL, NULL);
    bool same = with.df == 1 && with.df == without.df && with.statistic == without.statistic;
    return check_text(same ? "drop it" : "kept");
}

static CheckAnswer logrank(const CheckRow *row) {
    static Subjects s;
    double observed[MOST], expected[MOST], variance;
    bool edge = edge_groups(row, &s);
    if (edge && s.groups == 3)
        return dropped(&s);
    if (!edge && !read_set(row, true, &s))
        return check_not_mine();
    LogrankData d = {s.times, s.event,  s.group, s.strata > 1 ? s.stratum : NULL,
                     s.n,     s.groups, s.strata};
    if (check_says(row->method, "permutation"))
        return check_number(fabs(logrank_gehan_permutation(&d)));
    LogrankWeight weight = check_says(row->method, "Gehan")  ? LOGRANK_GEHAN
                           : check_says(row->method, "Peto") ? LOGRANK_PETO
                                                             : LOGRANK_EQUAL;
    LogrankTest t = logrank_test(&d, weight, observed, expected, &variance);
    if (strcmp(row->quantity, "E") == 0)
        return check_number(expected[s.wanted]);
    if (strcmp(row->quantity, "O") == 0)
        return check_number(observed[s.wanted]);
    if (strcmp(row->quantity, "V") == 0)
        return check_number(variance);
    if (strcmp(row->quantity, "df") == 0)
        return check_number(t.df);
    return check_number(row->quantity[0] == 'p' ? t.p : t.statistic);
}

// ---- competing ends ----

// The kind asked for: named in the data, or the letter of `CIF_a(5)`.
static unsigned end_asked(const CheckRow *row) {
    const char *letter = strstr(row->quantity, "CIF_");
    if (letter != NULL)
        return (unsigned)(letter[4] - 'a' + 1);
    if (check_says(row->inputs, "pcm"))
        return 1;
    if (check_says(row->inputs, "mgus2"))
        return check_says(row->inputs, "death") ? 2 : 0;
    for (size_t i = 0; i < G_N_ELEMENTS(ends); i++)
        if (check_says(row->inputs, ends[i][0]))
            return (unsigned)atoi(ends[i][1]);
    return 0;
}

// Identities, over a set of ends and every time.
static CheckAnswer identities(const CheckRow *row) {
    static IncidenceStep a[MOST], b[MOST];
    static SurvivalStep naive[MOST];
    double times[60], worst = 1;
    unsigned end[60];
    bool own[60], below = true;
    size_t na, nb, nn;
    for (int i = 0; i < 60; i++) {
        times[i] = i * 7 % 31;
        end[i] = (unsigned)(i * 5 % 11 % 3);
        own[i] = end[i] == 1;
    }
    incidence_curve(times, end, 60, 1, a, &na);
    incidence_curve(times, end, 60, 2, b, &nb);
    survival_curve(times, own, 60, naive, &nn);
    for (size_t i = 0; i < na; i++) {
        double sum = a[i].survival + a[i].incidence + b[i].incidence;
        worst = fabs(sum - 1) > fabs(worst - 1) ? sum : worst;
        below = below && a[i].incidence <= 1 - naive[i].survival + 1e-15;
    }
    if (check_says(row->quantity, "sum"))
        return check_number(fabs(worst - 1) <= 1e-12 ? 1 : worst); // to 1e-12, as the row says
    return check_text(below ? "<= 1-KM" : "> 1-KM");
}

static CheckAnswer incidence(const CheckRow *row) {
    static Subjects s;
    static IncidenceStep steps[MOST];
    static SurvivalStep alone[MOST];
    size_t count;
    double t = 2, years = strcmp(row->quantity, "years") == 0 ? 12 : 1;
    if (check_says(row->inputs, "any data"))
        return identities(row);
    bool none = check_says(row->inputs, "all censored");
    if (none)
        read_list("times 1+ 2+ 3+", &s);
    else if (!read_subjects(row, false, &s) || !time_asked(row, &t))
        return check_not_mine();
    unsigned of = none ? 1 : end_asked(row);
    if (check_says(row->method, "1-KM")) {
        for (size_t i = 0; i < s.n; i++)
            s.event[i] = s.end[i] == of;
        survival_curve(s.times, s.event, s.n, alone, &count);
        return check_number(1 - survival_at(alone, count, t, 0.95, SURVIVAL_LOG_LOG).estimate);
    }
    survival_curve(s.times, s.event, s.n, alone, &count);
    if (check_says(row->method, "restricted") && of == 0)
        return check_number(survival_mean(alone, count, t, NULL) / years);
    if (!incidence_curve(s.times, s.end, s.n, of, steps, &count))
        return check_text("error");
    if (check_says(row->method, "restricted"))
        return check_number(incidence_mean(steps, count, t) / years);
    IncidenceVariance method = check_says(row->method, "jackknife")   ? INCIDENCE_JACKKNIFE
                               : check_says(row->method, "Aalen var") ? INCIDENCE_AALEN
                                                                      : INCIDENCE_DELTA;
    double variance = incidence_variance(steps, count, t, method);
    if (check_says(row->quantity, "Var"))
        return check_number(variance);
    if (strstr(row->quantity, "SE") != NULL)
        return check_number(sqrt(variance));
    return check_part(row, incidence_interval(steps, count, t, check_confidence(row)));
}

const CheckMethod published_survivals[] = {
    {"*cumulative incidence*", incidence},
    {"*of CIF*", incidence},
    {"Aalen-Johansen*", incidence},
    {"1-KM*", incidence},
    {"*log-rank*", logrank},
    {"Gehan*", logrank},
    {"Peto*", logrank},
    {"Kaplan-Meier*", survival},
    {"KM *", survival},
    {"Greenwood*", survival},
    {"Nelson-Aalen*", survival},
    {"log(-log)*", survival},
    {"log-log*", survival},
    {"log-transformed*", survival},
    {"plain*", survival},
    {"restricted mean*", survival},
    {"Brookmeyer*", survival},
    {NULL, NULL},
};
