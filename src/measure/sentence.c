// SPDX-License-Identifier: GPL-3.0-or-later
// The grammar of signals: one table of sentences, whose marks {like this} are filled in.
#include "measure/sentence.h"

#include "base/percent.h"
#include "measure/plainly.h"

#include <math.h>
#include <string.h>

// ---- the table ----

typedef enum { ANY = -1 } AnyMeasure;

// The first row that fits is taken. rare: -1 any, 0 no chart of gaps, 1 a short gap, 2 a long one.
typedef struct {
    SignalKind kind;
    int measure, adjusted, rare;
    const char *text;
} Rule;

static const Rule rules[] = {
    {SIGNAL_LEVEL, ANY, 1, ANY,
     "{lead} {at}: {title}, with the mix of patients allowed for: {events}{judged} where "
     "{expected} "
     "were expected at the network's risks, a ratio of {ratio} ({confidence} interval {ratio_low} "
     "to "
     "{ratio_high}). Chance and the usual spread between units do not explain that ({q})."},
    {SIGNAL_LEVEL, CHANGE_MEDIAN, 0, ANY,
     "{lead} {at}: {title} has a median of {estimate} ({total} known{judged}; {confidence} "
     "interval {lower} to {upper}), against {reference} {such}in the whole network. Held against "
     "patients {same}elsewhere, its patients' times are {longer} than chance and the "
     "usual spread between units explain ({q})."},
    {SIGNAL_LEVEL, CHANGE_RATE, 0, ANY,
     "{lead} {at}: {title} come to {estimate} ({events} events{judged}; {confidence} interval "
     "{lower} to {upper}), against {reference} {such}in the whole network. Chance and the usual "
     "spread between "
     "units do not explain that ({q}).{other}"},
    {SIGNAL_LEVEL, ANY, 0, ANY,
     "{lead} {at}: {title} is {estimate} ({events} of {total}{judged}{lacking}; {confidence} "
     "interval {lower} to {upper}), against {reference} {such}in the whole network. Chance and the "
     "usual "
     "spread between "
     "units do not explain that ({q}).{other}"},
    {SIGNAL_POINT, ANY, ANY, 2,
     "{lead} {at}: {title}: up to {period} {gap} went by without one, where {mean_gap} is usual "
     "({q})."},
    {SIGNAL_POINT, ANY, ANY, 1,
     "{lead} {at}: {title}: in {period} one came {gap} after another, where {mean_gap} is usual "
     "({q})."},
    {SIGNAL_POINT, CHANGE_MEDIAN, ANY, ANY,
     "{lead} {at}: {title} had a median of {estimate}{of} in {period}, outside what chance makes "
     "of the usual {reference} ({lower} to {upper}; {q}).{too}"},
    {SIGNAL_POINT, ANY, ANY, ANY,
     "{lead} {at}: {title} was {estimate}{of} in {period}, outside what chance makes of the usual "
     "{reference} ({lower} to {upper}; {q})."},
    {SIGNAL_SHIFT, ANY, ANY, ANY,
     "{lead} {at}: {title} was {reference} in the earlier half of the {periods} and {estimate} in "
     "the later half{mix}; {longest} {periods} running lay on one side of the median, which was "
     "crossed "
     "{crossings} in {useful}: longer on one side than chance explains ({q}). A shift that lasts "
     "does that, and so does a season."},
    {SIGNAL_TREND, CHANGE_MEDIAN, ANY, ANY,
     "{lead} {at}: {title} has been {growing}, its median by {slope} a year{mix} "
     "({confidence} interval {slope_low} to {slope_high}; {q})."},
    {SIGNAL_TREND, CHANGE_SHARE, ANY, ANY,
     "{lead} {at}: {title} has been {growing}; a year multiplies its odds by {ratio} ({confidence} "
     "interval {ratio_low} to {ratio_high}; {q})."},
    {SIGNAL_TREND, ANY, ANY, ANY,
     "{lead} {at}: {title}: the number has been {growing}; a year multiplies it by {ratio} "
     "({confidence} interval {ratio_low} to {ratio_high}; {q}).{steady}"},
    {SIGNAL_CHANGE, CHANGE_SHARE, ANY, ANY,
     "{lead} {at}: {title} was {estimate} in {period}, against {reference} in {against}; the "
     "difference is {points} ({confidence} interval {points_low} to {points_high}; {q})."},
    {SIGNAL_CHANGE, CHANGE_MEDIAN, ANY, ANY,
     "{lead} {at}: {title} had a median of {estimate} in {period}, against {reference} in "
     "{against}; {alike}the typical difference is {slope} ({confidence} interval {slope_low} to "
     "{slope_high}; {q})."},
    {SIGNAL_CHANGE, ANY, ANY, ANY,
     "{lead} {at}: {title} came to {estimate} in {period}, against {reference} in {against}; the "
     "ratio is {ratio} ({confidence} interval {ratio_low} to {ratio_high}; {q})."},
};

static const char *const leads[] = {"Worth a look", "Higher", "Lower", "Good news"};
static const char robust[] = " It stands even in the worst case for what is unknown.";
static const char rests[] =
    " It rests on {unknown}: if {they} spoke against it, it would not stand.";

// What to look at first: by whether it is a level or a change, and whether it is good news.
static const char *const look_level[] = {
    " Look first at how the records were made, then at the mix of patients, then at practice.",
    " Look first at how the records were made; then ask what others can learn from it."};
static const char *const look_adjusted[] = {
    " Look first at how the records were made, then at what the model does not know of the "
    "patients, then at practice.",
    " Look first at how the records were made; then ask what others can learn from it."};
static const char *const look_times[] = {
    " Look first at how the records were made, then at what else sets its patients apart, then at "
    "practice.",
    " Look first at how the records were made; then ask what others can learn from it."};
static const char *const look_change[] = {
    " Look first at whether the records changed, then at the mix of patients, then at practice.",
    " Look first at whether the records changed; then ask what keeps it so."};
static const char *const look_volume[] = {" Look first at which logs were sent in, and when.",
                                          " Look first at which logs were sent in, and when."};

// ---- numbers ----

static char *minutes_text(double value) {
    const long minutes = lround(fabs(value));
    const char *sign = value < 0 && minutes > 0 ? "−" : "";
    return minutes < 120 ? g_strdup_printf("%s%ld min", sign, minutes)
                         : g_strdup_printf("%s%ld h %02ld min", sign, minutes / 60, minutes % 60);
}

static char *plain(double value, const char *form) {
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    return g_strdup(g_ascii_formatd(text, sizeof text, form, value + 0.0));
}

static char *rate_number(double value) {
    return plain(value, fabs(value) >= 9.95 ? "%.0f" : fabs(value) >= 0.95 ? "%.1f" : "%.2g");
}

static char *rate_text(double value, const char *scale) {
    char *number = rate_number(value);
    char *text = g_strconcat(number, " ", scale, NULL);
    g_free(number);
    return text;
}

char *sentence_value(const Indicator *in, ChangeMeasure measure, double value) {
    if (isnan(value))
        return g_strdup("unknown");
    switch (measure) {
    case CHANGE_SHARE:
        return percent_text(value, percent_decimals(value));
    case CHANGE_MEDIAN:
        return minutes_text(value);
    case CHANGE_RATE:
        return rate_text(value, in->scale);
    case CHANGE_VOLUME:
        return rate_text(value, "a week");
    }
    return NULL;
}

// A limit beside its estimate, whose unit it shares: `9`; times have their own.
static char *limit_text(ChangeMeasure measure, double value, double estimate) {
    if (isnan(value))
        return g_strdup("no limit");
    if (measure == CHANGE_MEDIAN)
        return minutes_text(value);
    return measure == CHANGE_SHARE ? percent_bare(value, percent_decimals(estimate))
                                   : rate_number(value);
}

static char *or_open(double value, char *(*text)(double)) {
    return isnan(value)   ? g_strdup("(no limit)")
           : isinf(value) ? g_strdup("no limit")
                          : text(value);
}

static char *ratio_text(double value) {
    return plain(value, "%.2f");
}

static char *points_number(double value) {
    char *number = plain(fabs(100 * value), "%.1f");
    char *text = g_strconcat(strcmp(number, "0.0") == 0 ? "" : value < 0 ? "−" : "+", number, NULL);
    g_free(number);
    return text;
}

static char *points_text(double value) {
    char *number = points_number(value);
    char *text = g_strconcat(number, " percentage points", NULL);
    g_free(number);
    return text;
}

static char *counted(double n, const char *one, const char *many) {
    char *number = plain(n, "%.0f");
    char *text = g_strconcat(number, " ", n == 1 ? one : many, NULL);
    g_free(number);
    return text;
}

// ---- marks ----

static char *gap_text(const SentenceFacts *f, double gap) {
    if (f->series->chart == SERIES_T)
        return counted(round(gap), "day", "days");
    return counted(round(gap), "transfer", "transfers");
}

// Marks of a series.
static char *series_mark(const char *mark, const Signal *s, const SentenceFacts *f) {
    const Series *r = f->series;
    if (!strcmp(mark, "gap"))
        return gap_text(f, s->estimate);
    if (!strcmp(mark, "mean_gap"))
        return gap_text(f, s->reference);
    if (!strcmp(mark, "periods"))
        return g_strdup(r->unit == 0 ? "months" : "quarters");
    if (!strcmp(mark, "longest"))
        return plain((double)r->levels.longest, "%.0f");
    if (!strcmp(mark, "useful"))
        return plain((double)r->levels.useful, "%.0f");
    if (!strcmp(mark, "crossings"))
        return r->levels.crossings == 1 ? g_strdup("once")
                                        : counted((double)r->levels.crossings, "time", "times");
    if (strcmp(mark, "steady") != 0)
        return NULL;
    if (f->unit || r->steady_units == 0 || isnan(r->steady_trend.ratio.estimate))
        return g_strdup("");
    char *units = counted(r->steady_units, "unit", "units");
    char *ratio = ratio_text(r->steady_trend.ratio.estimate);
    char *low = or_open(r->steady_trend.ratio.lower, ratio_text);
    char *high = or_open(r->steady_trend.ratio.upper, ratio_text);
    char *text = g_strdup_printf(" For the %s with records in every month it is %s (%s to %s).",
                                 units, ratio, low, high);
    g_free(units);
    g_free(ratio);
    g_free(low);
    g_free(high);
    return text;
}

static char *q_text(double q) {
    if (q < 0.001)
        return g_strdup("q below 0.001");
    char *number = plain(q, "%.2g"), *text = g_strconcat("q ", number, NULL);
    g_free(number);
    return text;
}

// What is not known, where that is more than one record in ten: ", not known for 371 more".
static char *lacking_text(const SentenceFacts *f) {
    if (!(f->unknown * 10 > f->total + f->unknown))
        return g_strdup("");
    char *n = plain(f->unknown, "%.0f"), *text = g_strdup_printf(", not known for %s more", n);
    g_free(n);
    return text;
}

// What a value of one period rests on, where that can be few: " (6 of 13)", " (13 patients)".
static char *of_text(const SentenceFacts *f) {
    if (!(f->total > 0) || (f->measure != CHANGE_SHARE && f->measure != CHANGE_MEDIAN))
        return g_strdup("");
    char *n = f->measure == CHANGE_MEDIAN ? counted(f->total, "patient", "patients")
                                          : plain(f->total, "%.0f"),
         *events = plain(f->events, "%.0f"),
         *text = f->measure == CHANGE_MEDIAN ? g_strdup_printf(" (%s)", n)
                                             : g_strdup_printf(" (%s of %s)", events, n);
    g_free(n);
    g_free(events);
    return text;
}

// How urgencies were allowed for in waiting times of all patients, or a change of them.
static char *urgencies_text(const char *mark, const Signal *s, const SentenceFacts *f) {
    if (f->measure != CHANGE_MEDIAN || s->urgency != 0 || f->urgencies < 2)
        return g_strdup("");
    if (!strcmp(mark, "same"))
        return g_strdup("of the same urgency ");
    if (!strcmp(mark, "mix"))
        return g_strdup(", the mix of urgencies being allowed for");
    if (!strcmp(mark, "alike"))
        return g_strdup("among patients of the same urgency ");
    return g_strdup_printf(" Held against patients of the same urgency at other times, its "
                           "patients' times are %s, too.",
                           s->estimate > s->reference ? "longer" : "shorter");
}

// What the case-mix says beside a crude level.
static char *other_text(const SentenceFacts *f) {
    if (!f->other || isnan(f->other->q))
        return g_strdup("");
    char *ratio = ratio_text(f->other->value.estimate), *q = q_text(f->other->q);
    char *text = g_strdup_printf(
        " With the mix of patients allowed for, observed over expected is %s (%s).", ratio, q);
    g_free(ratio);
    g_free(q);
    return text;
}

static char *value_mark(const char *mark, const Signal *s, const SentenceFacts *f) {
    const struct {
        const char *mark;
        double value;
    } values[] = {{"estimate", s->estimate}, {"reference", s->reference}};
    for (guint i = 0; i < G_N_ELEMENTS(values); i++)
        if (!strcmp(mark, values[i].mark))
            return sentence_value(f->indicator, f->measure, values[i].value);
    const double least = s->kind == SIGNAL_POINT ? fmax(0, s->lower) : s->lower; // no value is less
    if (!strcmp(mark, "lower") || !strcmp(mark, "upper"))
        return limit_text(f->measure, *mark == 'l' ? least : s->upper, s->estimate);
    const bool minutes_a_year = s->kind == SIGNAL_TREND && f->measure == CHANGE_MEDIAN;
    const double effect = s->kind == SIGNAL_LEVEL ? s->estimate
                          : minutes_a_year        ? fabs(s->effect) // `falling` says the rest
                                                  : s->effect;
    char *(*text)(double) = g_str_has_prefix(mark, "ratio")    ? ratio_text
                            : !strcmp(mark, "points")          ? points_text
                            : g_str_has_prefix(mark, "points") ? points_number
                            : g_str_has_prefix(mark, "slope")  ? minutes_text
                                                               : NULL;
    if (!text)
        return NULL;
    const bool falls = minutes_a_year && s->effect < 0;
    return or_open(g_str_has_suffix(mark, "_low")    ? (falls ? -s->upper : s->lower)
                   : g_str_has_suffix(mark, "_high") ? (falls ? -s->lower : s->upper)
                                                     : effect,
                   text);
}

static char *title_text(const Signal *s, const Indicator *in) {
    if (s->urgency == 0)
        return g_strdup(in->title);
    return g_strdup_printf("%s (%s patients)", in->title,
                           field_code_text(field_table[FIELD_urgency].codes, s->urgency));
}

// Says that the network's value is of records as those that the unit is judged by.
static char *such_text(const Indicator *in) {
    char *judged = plainly_judged(in->compare);
    char *text = g_strdup(*judged ? "among the same " : "");
    g_free(judged);
    return text;
}

static char *word_mark(const char *mark, const Signal *s, const SentenceFacts *f) {
    if (!strcmp(mark, "lead"))
        return g_strdup(leads[s->direction]);
    if (!strcmp(mark, "at"))
        return f->unit ? g_strconcat("at ", f->unit, NULL) : g_strdup("in the network");
    if (!strcmp(mark, "title"))
        return title_text(s, f->indicator);
    if (!strcmp(mark, "of"))
        return of_text(f);
    if (!strcmp(mark, "period"))
        return g_strdup(s->period);
    if (!strcmp(mark, "against"))
        return g_strdup(s->against);
    if (!strcmp(mark, "growing"))
        return g_strdup(s->estimate > s->reference ? "rising" : "falling");
    if (!strcmp(mark, "longer"))
        return g_strdup(f->side > 0 ? "longer" : "shorter");
    if (!strcmp(mark, "judged"))
        return plainly_judged(f->indicator->compare);
    if (!strcmp(mark, "lacking"))
        return lacking_text(f);
    if (!strcmp(mark, "such"))
        return such_text(f->indicator);
    if (!strcmp(mark, "events"))
        return plain(f->events, "%.0f");
    if (!strcmp(mark, "total"))
        return plain(f->total, "%.0f");
    if (!strcmp(mark, "expected"))
        return plain(f->expected, "%.1f");
    if (!strcmp(mark, "confidence"))
        return percent_exact(f->confidence, 4);
    if (!strcmp(mark, "q"))
        return q_text(s->q);
    if (!strcmp(mark, "mix") || !strcmp(mark, "too") || !strcmp(mark, "alike") ||
        !strcmp(mark, "same"))
        return urgencies_text(mark, s, f);
    if (!strcmp(mark, "other"))
        return other_text(f);
    if (!strcmp(mark, "unknown"))
        return counted(s->rests_on, "unknown record", "unknown records");
    if (!strcmp(mark, "they"))
        return g_strdup(s->rests_on == 1 ? "it" : "they all");
    return NULL;
}

// Fills the marks of a text.
static void append(GString *out, const char *text, const Signal *s, const SentenceFacts *f) {
    for (const char *open; (open = strchr(text, '{')) != NULL;) {
        const char *close = strchr(open, '}');
        char *mark = g_strndup(open + 1, (gsize)(close - open - 1));
        char *value = word_mark(mark, s, f);
        value = value ? value : value_mark(mark, s, f);
        value = value ? value : series_mark(mark, s, f);
        g_string_append_len(out, text, open - text);
        g_string_append(out, value);
        g_free(value);
        g_free(mark);
        text = close + 1;
    }
    g_string_append(out, text);
}

static const Rule *rule_of(const Signal *s, const SentenceFacts *f) {
    const bool gaps = f->series && f->series->gaps;
    const int rare = !gaps || s->kind != SIGNAL_POINT ? 0 : f->series->longer ? 2 : 1;
    for (guint i = 0; i < G_N_ELEMENTS(rules); i++) {
        const Rule *r = &rules[i];
        if (r->kind == s->kind && (r->measure == ANY || r->measure == (int)f->measure) &&
            (r->adjusted == ANY || r->adjusted == s->adjusted) &&
            (r->rare == ANY || r->rare == rare))
            return r;
    }
    g_assert_not_reached();
}

char *sentence_of(const Signal *s, const SentenceFacts *f) {
    const char *const *look = s->adjusted ? look_adjusted
                              : s->kind == SIGNAL_LEVEL
                                  ? (f->measure == CHANGE_MEDIAN ? look_times : look_level)
                              : f->measure == CHANGE_VOLUME ? look_volume
                                                            : look_change;
    GString *out = g_string_new(NULL);
    append(out, rule_of(s, f)->text, s, f);
    append(out, s->robust == COMPARE_ROBUST ? robust : rests, s, f);
    append(out, look[s->direction == SIGNAL_BETTER], s, f);
    return g_string_free(out, FALSE);
}
