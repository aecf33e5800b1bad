// SPDX-License-Identifier: GPL-3.0-or-later
// Figures and names as people read them.
#include "pack/words.h"

#include "base/percent.h"
#include "base/visible.h"
#include "measure/plainly.h"

#include <math.h>
#include <string.h>

WordsUnit words_unit(const Indicator *i) {
    switch (i->measure) {
    case MEASURE_SHARE:
    case MEASURE_MIX:
    case MEASURE_OVERLAP:
        return WORDS_PERCENT;
    case MEASURE_QUANTILE:
        return WORDS_MINUTES;
    case MEASURE_HOURS:
        return WORDS_HOURS;
    case MEASURE_COUNT:
        return WORDS_COUNT;
    case MEASURE_RATE:
        break;
    }
    return WORDS_RATE;
}

int words_decimals(WordsUnit unit, double largest) {
    const double shown = fabs(largest);
    if (unit == WORDS_PERCENT)
        return percent_decimals(largest);
    if (unit == WORDS_COUNT || unit == WORDS_MINUTES || !isfinite(shown))
        return 0;
    return shown >= 9.95 ? 0 : shown >= 0.995 ? 1 : 2;
}

int words_decimals_between(WordsUnit unit, double smallest, double largest) {
    const int decimals = words_decimals(unit, largest);
    return decimals == 0 && unit == WORDS_RATE ? MIN(words_decimals(unit, smallest), 1) : decimals;
}

// Digits in groups of three with a comma between.
static char *grouped(double value, int decimals) {
    char format[8] = "%.0f", text[G_ASCII_DTOSTR_BUF_SIZE];
    format[2] = (char)('0' + decimals);
    g_ascii_formatd(text, sizeof text, format, fabs(value));
    GString *out = g_string_new(value < 0 && strpbrk(text, "123456789") ? "−" : "");
    const char *point = strchr(text, '.');
    const size_t whole = point ? (size_t)(point - text) : strlen(text);
    for (size_t k = 0; text[k]; k++) {
        if (k > 0 && k < whole && (whole - k) % 3 == 0)
            g_string_append_c(out, ',');
        g_string_append_c(out, text[k]);
    }
    return g_string_free(out, FALSE);
}

// How minutes are written: minutes below two hours, then hours and minutes, from two days on days
// and hours. Chosen by the estimate, so that its limits are written alike.
typedef enum { AS_MINUTES, AS_HOURS, AS_DAYS } Span;

static Span span_of(double minutes) {
    return minutes >= 2880 ? AS_DAYS : minutes >= 120 ? AS_HOURS : AS_MINUTES;
}

// A figure without its unit.
static char *bare(WordsUnit unit, double value, int decimals, Span span) {
    if (!isfinite(value))
        return g_strdup("?");
    if (unit != WORDS_MINUTES || span == AS_MINUTES)
        return grouped(value, decimals);
    const long minutes = lround(fabs(value)), hours = lround(fabs(value) / 60);
    const char *sign = value < 0 && minutes > 0 ? "−" : "";
    return span == AS_HOURS ? g_strdup_printf("%s%ld h %02ld", sign, minutes / 60, minutes % 60)
                            : g_strdup_printf("%s%ld d %ld h", sign, hours / 24, hours % 24);
}

static const char *behind(WordsUnit unit, Span span) {
    switch (unit) {
    case WORDS_MINUTES:
        return span == AS_MINUTES ? " min" : "";
    case WORDS_HOURS:
        return " h";
    case WORDS_PERCENT: // base/percent.h
    case WORDS_COUNT:
    case WORDS_RATE:
        break;
    }
    return "";
}

char *words_figure(WordsUnit unit, double value, int decimals) {
    if (!isfinite(value))
        return g_strdup("not known");
    if (unit == WORDS_PERCENT)
        return percent_text(value, decimals);
    char *text = bare(unit, value, decimals, span_of(value)),
         *whole = g_strconcat(text, behind(unit, span_of(value)), NULL);
    g_free(text);
    return whole;
}

char *words_value(const Indicator *i, double value) {
    const WordsUnit unit = words_unit(i);
    char *figure = words_figure(unit, value, words_decimals(unit, value));
    if (unit != WORDS_RATE || !isfinite(value))
        return figure;
    char *whole = g_strconcat(figure, " ", i->scale, NULL);
    g_free(figure);
    return whole;
}

char *words_interval(WordsUnit unit, double estimate, double lower, double upper, int decimals) {
    if (!isfinite(estimate))
        return g_strdup("not known");
    if (unit == WORDS_PERCENT)
        return percent_interval(estimate, lower, upper, decimals);
    const Span span = span_of(estimate);
    char *value = bare(unit, estimate, decimals, span),
         *low = isfinite(lower) ? bare(unit, lower, decimals, span) : NULL,
         *high = isfinite(upper) ? bare(unit, upper, decimals, span) : NULL,
         *limits = percent_limits(low, high);
    char *whole = g_strdup_printf("%s%s (%s)", value, behind(unit, span), limits);
    g_free(value);
    g_free(low);
    g_free(high);
    g_free(limits);
    return whole;
}

char *words_estimate(const Estimates *e, const Estimate *r) {
    const WordsUnit unit = words_unit(e->catalogue->pdata[r->indicator]);
    return words_interval(unit, r->estimate, r->lower, r->upper, words_decimals(unit, r->estimate));
}

char *words_unknown(const Estimates *e, const Estimate *r) {
    const Indicator *i = e->catalogue->pdata[r->indicator];
    const double all = r->total + (double)r->unknown;
    if (i->measure != MEASURE_SHARE || !((double)r->unknown * 10 > all))
        return NULL;
    char *unknown = words_figure(WORDS_COUNT, (double)r->unknown, 0),
         *of = words_figure(WORDS_COUNT, all, 0),
         *text = g_strdup_printf("not known for %s of %s", unknown, of);
    g_free(unknown);
    g_free(of);
    return text;
}

const char *words_unit_name(const Estimates *e, const Network *network, uint16_t unit) {
    return visible_isolated(network_unit_name(network, e->t->units->pdata[unit]));
}

bool words_single(const Estimates *e) {
    return e->units->len == 2; // all, and the one
}

const char *words_whole(const Estimates *e, const Network *network) {
    return words_single(e) ? words_unit_name(e, network, g_array_index(e->units, uint16_t, 1))
                           : "The network";
}

const char *words_unit_code(const Estimates *e, uint16_t unit) {
    return visible_isolated(e->t->units->pdata[unit]);
}

// Fields whose yes and no need words of their own.
static const struct {
    FieldId field;
    const char *yes, *no;
} plain[] = {
    {FIELD_out_of_hours, "out of hours", "in hours"},
    {FIELD_escort_trained, "trained escort", "untrained escort"},
    {FIELD_ventilated, "ventilated", "not ventilated"},
    {FIELD_vasoactive, "vasoactive infusion", "no vasoactive infusion"},
};

char *words_code(const char *code) {
    return plainly_code(code);
}

// Codes whose word alone does not say what is meant.
static const struct {
    FieldId field;
    uint16_t code;
    const char *text;
} said[] = {
    {FIELD_delay_reason, CODE_delay_reason_NONE, "no delay"},
    {FIELD_escort_grade, CODE_escort_grade_NONE, "nobody"},
    {FIELD_second_escort, CODE_second_escort_NONE, "nobody"},
};

char *words_group(const Estimates *e, const Network *network, FieldId by, uint16_t group) {
    if (group == 0) {
        char *field = words_field(by), *text = g_strdup_printf("%s not known", field);
        g_free(field);
        return text;
    }
    if (field_table[by].kind == KIND_UNIT)
        return g_strdup(words_unit_name(e, network, group));
    for (unsigned i = 0; i < G_N_ELEMENTS(plain); i++)
        if (plain[i].field == by)
            return g_strdup(group == CODE_yes_no_YES ? plain[i].yes : plain[i].no);
    for (unsigned i = 0; i < G_N_ELEMENTS(said); i++)
        if (said[i].field == by && said[i].code == group)
            return g_strdup(said[i].text);
    const char *code = field_code_text(field_table[by].codes, group);
    return by == FIELD_care_level ? g_strdup_printf("level %s", code) : words_code(code);
}

// Fields whose name does not say to everybody what they hold.
static const struct {
    FieldId field;
    const char *text;
} fields[] = {
    {FIELD_transfer_id, "pseudonym of the transfer"},
    {FIELD_episode_id, "pseudonym of the journey"},
    {FIELD_recorded_by, "keeper of the log"},
    {FIELD_condition, "leading problem"},
    {FIELD_age_band, "age"},
    {FIELD_care_level, "level of care"},
    {FIELD_vasoactive, "vasoactive infusion"},
    {FIELD_transfer_date, "date"},
    {FIELD_requested_at, "time of request"},
    {FIELD_accepted_at, "time of acceptance"},
    {FIELD_team_ready_at, "time team ready"},
    {FIELD_at_patient_at, "time at the bedside"},
    {FIELD_departed_at, "time of departure"},
    {FIELD_arrived_at, "time of arrival"},
    {FIELD_handed_over_at, "time of handover"},
    {FIELD_returned_at, "time escort back"},
    {FIELD_ended_at, "time of end, not departed"},
    {FIELD_airway_skilled, "airway skill aboard"},
    {FIELD_base_cover, "cover left at the unit"},
    {FIELD_events, "adverse events"},
    {FIELD_distance_km, "distance"},
};

char *words_field(FieldId field) {
    for (unsigned i = 0; i < G_N_ELEMENTS(fields); i++)
        if (fields[i].field == field)
            return g_strdup(fields[i].text);
    return g_strdelimit(g_strdup(field_table[field].name), "_", ' ');
}

char *words_by_chance(const Estimates *e) {
    return g_strdup_printf("as about 1 in %.0f does by chance alone", 1 / (1 - e->confidence));
}

const char *words_notice(const Network *network) {
    if (network->notice)
        return network->notice;
    char *lower = g_utf8_strdown(network->name, -1);
    const bool invented = strstr(lower, "invented") != NULL;
    g_free(lower);
    return invented ? "Invented data: no real hospital, patient or person is meant." : NULL;
}
