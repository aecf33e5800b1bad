// SPDX-License-Identifier: GPL-3.0-or-later
// Reads counts as a person writes them, picks the method, and says in words what was computed.
#include "command/interval.h"
#include "command/session.h"

#include "base/percent.h"
#include "stats/difference.h"
#include "stats/proportion.h"
#include "stats/rate.h"
#include "stats/ratio.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { DONE = 0, WRONG_USAGE = 2, NOT_WRITTEN = 4 };

typedef enum { PROPORTION, RATE, DIFFERENCE, RATIO } Kind;

typedef struct {
    double events[2], total[2]; // of the first and, for a comparison, the second side
    Kind kind;
} Counts;

typedef StatsInterval (*OneSide)(double x, double n, double confidence);
typedef StatsInterval (*TwoSides)(double x1, double n1, double x2, double n2, double confidence);

typedef struct {
    Kind kind;
    const char *name, *words, *source;
    OneSide one;
    TwoSides two;
} Method;

// The first method of a kind is its default.
static const Method methods[] = {
    {PROPORTION, "wilson", "Wilson score limits without continuity correction",
     "Wilson 1927, J Am Stat Assoc 22:209-212; Newcombe 1998, Stat Med 17:857-872, method 3",
     proportion_wilson, NULL},
    {PROPORTION, "wilson-corrected", "Wilson score limits with continuity correction",
     "Newcombe 1998, Stat Med 17:857-872, method 4", proportion_wilson_corrected, NULL},
    {PROPORTION, "clopper-pearson", "exact (Clopper-Pearson) limits, never too narrow",
     "Clopper & Pearson 1934, Biometrika 26:404-413", proportion_clopper_pearson, NULL},
    {PROPORTION, "mid-p", "exact mid-P limits", "Newcombe 1998, Stat Med 17:857-872, method 6",
     proportion_midp, NULL},
    {RATE, "exact-poisson", "exact Poisson (Garwood) limits", "Garwood 1936, Biometrika 28:437-442",
     rate_garwood, NULL},
    {RATE, "mid-p", "exact mid-P Poisson limits", "Cohen & Yang 1994, Stat Med 13:2189-2210",
     rate_midp, NULL},
    {RATE, "byar", "Byar's approximate Poisson limits",
     "Breslow & Day 1987, Statistical Methods in Cancer Research II, p. 69", rate_byar, NULL},
    {DIFFERENCE, "newcombe", "hybrid score limits from two Wilson intervals",
     "Newcombe 1998, Stat Med 17:873-890, method 10", NULL, difference_newcombe},
    {DIFFERENCE, "newcombe-corrected", "hybrid score limits with continuity correction",
     "Newcombe 1998, Stat Med 17:873-890, method 11", NULL, difference_newcombe_corrected},
    {DIFFERENCE, "miettinen-nurminen", "Miettinen-Nurminen score limits",
     "Miettinen & Nurminen 1985, Stat Med 4:213-226", NULL, difference_miettinen_nurminen},
    {DIFFERENCE, "mee", "Mee's score limits", "Mee 1984, Biometrics 40:1175-1176", NULL,
     difference_mee},
    {RATIO, "exact-conditional", "exact limits given the sum of both counts",
     "Przyborowski & Wilenski 1940, Biometrika 31:313-323", NULL, ratio_exact},
    {RATIO, "mid-p", "exact mid-P limits given the sum of both counts",
     "Rothman, Greenland & Lash 2008, Modern Epidemiology, ch. 14", NULL, ratio_midp},
    {RATIO, "wald", "normal limits of the logarithm of the ratio",
     "Rothman, Greenland & Lash 2008, Modern Epidemiology, ch. 14", NULL, ratio_wald},
};

static const char *const kind_names[] = {"proportion", "rate", "difference", "ratio"};

static const double MOST =
    9007199254740992; // 2^53: from there on not every whole number is a double

#define FAIL(...) (g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE, __VA_ARGS__), false)

// ---- reading ----

// A plain decimal number at *at, which moves behind it and the blanks that follow.
static bool read_number(const char **at, double *value) {
    if (!g_ascii_isdigit(**at) && **at != '.')
        return false;
    char *end;
    *value = g_ascii_strtod(*at, &end);
    if (end == *at || memchr(*at, 'x', (size_t)(end - *at)) != NULL || !isfinite(*value))
        return false;
    *at = end + strspn(end, " ");
    return true;
}

static bool read_word(const char **at, const char *word) {
    if (g_ascii_strncasecmp(*at, word, strlen(word)) != 0)
        return false;
    *at += strlen(word);
    *at += strspn(*at, " ");
    return true;
}

// One side, `X/N` or `X per T`; *rate says which.
static bool read_side(const char **at, double *events, double *total, bool *rate) {
    if (!read_number(at, events))
        return false;
    if (read_word(at, "/"))
        *rate = false;
    else if (read_word(at, "per"))
        *rate = true;
    else
        return false;
    return read_number(at, total);
}

static bool check_side(double events, double total, bool rate, GError **error) {
    if (events != floor(events) || (!rate && total != floor(total)))
        return FAIL("counts are whole numbers: %g%s%g", events, rate ? " per " : "/", total);
    if (events >= MOST || (!rate && total >= MOST))
        return FAIL("a count of %.0f or more can't be told from the next", MOST);
    if (!rate && !proportion_possible(events, total))
        return FAIL("%g/%g: more events than cases", events, total);
    if (rate && !rate_possible(events, total))
        return FAIL("%g per %g: events without exposure", events, total);
    if (rate && isinf(events / total))
        return FAIL("%g per %g: the exposure is too small", events, total);
    return true;
}

static bool read_counts(const char *text, Counts *counts, GError **error) {
    bool rate[2] = {false, false};
    const char *at = text + strspn(text, " ");
    bool read = read_side(&at, &counts->events[0], &counts->total[0], &rate[0]), two = false;
    if (read && *at != '\0') {
        two = read_word(&at, "vs") || read_word(&at, "v");
        read =
            two && read_side(&at, &counts->events[1], &counts->total[1], &rate[1]) && *at == '\0';
    }
    if (!read)
        return FAIL("cannot read '%s': give counts as 15/148, '15/148 vs 9/160', '3 per 1200' or "
                    "'3 per 1200 vs 9 per 1500'",
                    text);
    if (two && rate[0] != rate[1])
        return FAIL("cannot compare a proportion with a rate: '%s'", text);
    counts->kind = rate[0] ? (two ? RATIO : RATE) : (two ? DIFFERENCE : PROPORTION);
    return check_side(counts->events[0], counts->total[0], rate[0], error) &&
           (!two || check_side(counts->events[1], counts->total[1], rate[1], error));
}

static const Method *find_method(Kind kind, const char *name, GError **error) {
    g_autoptr(GString) known = g_string_new(NULL);
    for (size_t i = 0; i < G_N_ELEMENTS(methods); i++) {
        if (methods[i].kind != kind)
            continue;
        if (name == NULL || strcmp(methods[i].name, name) == 0)
            return &methods[i];
        g_string_append_printf(known, "%s%s", known->len > 0 ? ", " : "", methods[i].name);
    }
    (void)FAIL("unknown method '%s' for a %s; known: %s", name, kind_names[kind], known->str);
    return NULL;
}

// ---- telling ----

// A multiple of ten to tell a rate by, so that it is not all zeros.
static double telling_scale(Kind kind, const StatsInterval *i) {
    double scale = 1, size = i->estimate > 0 ? i->estimate : i->upper;
    if (kind == PROPORTION || kind == DIFFERENCE)
        return 100;
    while (kind == RATE && size > 0 && size * scale < 1 && scale < 1e12)
        scale *= 10;
    return scale;
}

static char *tell_value(double value, double scale) {
    if (isnan(value))
        return g_strdup("undefined");
    if (isinf(value))
        return g_strdup("infinite");
    char digits[G_ASCII_DTOSTR_BUF_SIZE], form[8] = "%.4g";
    g_ascii_formatd(digits, sizeof digits, form, value * scale);
    for (int n = 5; n <= 12 && value < 1 && strcmp(digits, "100") == 0; n++) { // not quite all
        g_snprintf(form, sizeof form, "%%.%dg", n);
        g_ascii_formatd(digits, sizeof digits, form, value * scale);
    }
    return g_strdup(digits);
}

static char *tell_unit(Kind kind, double scale) {
    if (kind == PROPORTION)
        return g_strdup(" %");
    if (kind == DIFFERENCE)
        return g_strdup(" percentage points");
    return kind == RATE ? g_strdup_printf(" per %.0f", scale) : g_strdup("");
}

static char *tell_estimate(const Counts *c, const StatsInterval *i, double confidence) {
    if (isnan(i->estimate) && isnan(i->lower))
        return g_strdup("undefined: nothing was counted, so there is nothing to estimate");
    double scale = telling_scale(c->kind, i);
    g_autofree char *estimate = tell_value(i->estimate, scale), *unit = tell_unit(c->kind, scale);
    g_autofree char *lower = tell_value(i->lower, scale), *upper = tell_value(i->upper, scale);
    g_autofree char *sure = percent_exact(confidence, 4);
    return g_strdup_printf("%s%s (%s limits %s to %s)", estimate, unit, sure, lower, upper);
}

static char *tell_sides(const Counts *c) {
    const double *x = c->events, *n = c->total;
    switch (c->kind) {
    case PROPORTION:
        return g_strdup_printf("Proportion: %.15g of %.15g", x[0], n[0]);
    case RATE:
        return g_strdup_printf("Rate: %.15g events in an exposure of %.15g", x[0], n[0]);
    case DIFFERENCE:
        return g_strdup_printf("Difference of two proportions: %.15g of %.15g, less %.15g of %.15g",
                               x[0], n[0], x[1], n[1]);
    default:
        return g_strdup_printf("Ratio of two rates: %.15g in %.15g, over %.15g in %.15g", x[0],
                               n[0], x[1], n[1]);
    }
}

// What the limits say about a comparison; empty for one side.
static const char *tell_meaning(const Counts *c, const StatsInterval *i) {
    if (c->kind == PROPORTION || c->kind == RATE || isnan(i->lower) || isnan(i->upper))
        return "";
    double same = c->kind == RATIO ? 1 : 0;
    if (i->lower <= same && same <= i->upper)
        return "The limits include no difference: these counts do not tell the two sides apart.\n";
    return "The limits exclude no difference: more than chance would explain at this level.\n";
}

static char *as_text(const char *given, const Counts *c, const Method *m, const StatsInterval *i,
                     double confidence) {
    g_autofree char *estimate = tell_estimate(c, i, confidence), *sides = tell_sides(c);
    return g_strdup_printf("%s: %s\n%s; %s.\n%sSource: %s\n", given, estimate, sides, m->words,
                           tell_meaning(c, i), m->source);
}

static json_t *json_number(double value) {
    if (value == floor(value) && fabs(value) < 1e15)
        return json_integer((json_int_t)value);
    return isfinite(value) ? json_real(value) : json_null();
}

static char *as_json(const Counts *c, const Method *m, const StatsInterval *i, double confidence) {
    json_t *sides = json_array(), *root = json_object();
    int count = c->kind == PROPORTION || c->kind == RATE ? 1 : 2;
    for (int s = 0; s < count; s++) {
        json_t *side = json_object();
        json_object_set_new(side, "events", json_number(c->events[s]));
        json_object_set_new(side, "total", json_number(c->total[s]));
        json_array_append_new(sides, side);
    }
    json_object_set_new(root, "kind", json_string(kind_names[c->kind]));
    json_object_set_new(root, "counts", sides);
    json_object_set_new(root, "estimate", json_number(i->estimate));
    json_object_set_new(root, "lower", json_number(i->lower));
    json_object_set_new(root, "upper", json_number(i->upper));
    json_object_set_new(root, "upper_unbounded", json_boolean(isinf(i->upper)));
    json_object_set_new(root, "confidence", json_real(confidence));
    json_object_set_new(root, "method", json_string(m->name));
    json_object_set_new(root, "words", json_string(m->words));
    json_object_set_new(root, "source", json_string(m->source));
    char *dumped = json_dumps(root, JSON_INDENT(2) | JSON_REAL_PRECISION(12));
    char *text = g_strconcat(dumped, "\n", NULL);
    free(dumped);
    json_decref(root);
    return text;
}

// ---- the command ----

static const char examples[] =
    "Counts:\n"
    "  15/148                    a proportion\n"
    "  15/148 vs 9/160           the difference of two proportions\n"
    "  3 per 1200                a rate: events per exposure\n"
    "  3 per 1200 vs 9 per 1500  the ratio of two rates\n"
    "\nMethods (of each kind the first is used unless another is named):";

static char *explain(void) {
    GString *text = g_string_new(examples);
    for (size_t i = 0; i < G_N_ELEMENTS(methods); i++) {
        const char *kind =
            i > 0 && methods[i].kind == methods[i - 1].kind ? "" : kind_names[methods[i].kind];
        g_string_append_printf(text, "\n  %-10s  %-19s %s", kind, methods[i].name,
                               methods[i].words);
    }
    return g_string_free(text, FALSE);
}

typedef struct {
    double confidence;
    char *method;
    gboolean json, help, quiet; // quiet: it never says more than its answer
    char **words;
} Options;

static bool read_options(char **argv, int argc, Options *options, char **help, GError **error) {
    GOptionEntry entries[] = {
        {"method", 'm', 0, G_OPTION_ARG_STRING, &options->method, "how the limits are computed",
         "NAME"},
        {"confidence", 'c', 0, G_OPTION_ARG_DOUBLE, &options->confidence,
         "two-sided confidence (0.95)", "C"},
        {"json", 'j', 0, G_OPTION_ARG_NONE, &options->json, "write JSON", NULL},
        {"quiet", 0, G_OPTION_FLAG_HIDDEN, G_OPTION_ARG_NONE, &options->quiet, NULL, NULL},
        {"help", 'h', 0, G_OPTION_ARG_NONE, &options->help, "show this help", NULL},
        {G_OPTION_REMAINING, 0, 0, G_OPTION_ARG_STRING_ARRAY, &options->words, NULL, "COUNTS"},
        {NULL, 0, 0, 0, NULL, NULL, NULL},
    };
    g_autoptr(GOptionContext) context = g_option_context_new(NULL);
    g_autoptr(GPtrArray) copy = g_ptr_array_new();
    for (int i = 0; i < argc; i++)
        g_ptr_array_add(copy, g_strdup(argv[i]));
    g_ptr_array_add(copy, NULL);
    g_auto(GStrv) arguments = (char **)g_ptr_array_steal(copy, NULL);
    g_option_context_set_help_enabled(context, FALSE);
    g_autofree char *explanation = explain();
    g_option_context_set_description(context, explanation);
    g_option_context_add_main_entries(context, entries, NULL);
    bool read = g_option_context_parse_strv(context, &arguments, error);
    *help = g_option_context_get_help(context, FALSE, NULL);
    return read;
}

static bool answer(const Options *options, char **text, GError **error) {
    if (!session_sure(options->confidence, error))
        return false;
    g_autofree char *given = g_strjoinv(" ", options->words);
    Counts counts = {0};
    if (!read_counts(given, &counts, error))
        return false;
    const Method *m = find_method(counts.kind, options->method, error);
    if (m == NULL)
        return false;
    const double *x = counts.events, *n = counts.total;
    StatsInterval i = m->one != NULL ? m->one(x[0], n[0], options->confidence)
                                     : m->two(x[0], n[0], x[1], n[1], options->confidence);
    *text = options->json ? as_json(&counts, m, &i, options->confidence)
                          : as_text(given, &counts, m, &i, options->confidence);
    return true;
}

int interval_run(int argc, char **argv, GError **error) {
    Options options = {.confidence = 0.95};
    g_autofree char *help = NULL, *text = NULL;
    bool fine = read_options(argv, argc, &options, &help, error);
    if (fine && options.help)
        text = g_steal_pointer(&help);
    else if (fine && options.words == NULL)
        fine = FAIL("no counts given, such as 15/148");
    else if (fine)
        fine = answer(&options, &text, error);
    g_free(options.method);
    g_strfreev(options.words);
    if (!fine)
        return WRONG_USAGE;
    if (fputs(text, stdout) == EOF || fflush(stdout) != 0) {
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_IO, "cannot write the answer");
        return NOT_WRITTEN;
    }
    return DONE;
}
