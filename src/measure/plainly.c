// SPDX-License-Identifier: GPL-3.0-or-later
// Codes and conditions as people say them.
#include "measure/plainly.h"

#include <string.h>

// Terms that have words of their own, as the catalogue writes them, codes in the list's order.
static const struct {
    const char *term, *words;
} known[] = {
    {"departed=yes", "departed"},
    {"ended=stood-down", "stood down"},
    {"ended=died-before-departure", "died before departure"},
    {"outcome=died-in-transit", "died on the way"},
    {"urgency=time-critical", "time-critical"},
    {"reason_group=non-clinical",
     "moved for want of a bed or staff or another non-clinical reason"},
    {"reason_group=repatriation", "a repatriation"},
    {"reason_group!=repatriation", "no repatriation"},
    {"out_of_hours=yes", "out of hours"},
    {"has_target=yes", "of an urgency that the network set a target for"},
    {"departed_in_time=yes", "left within that target"},
    {"ventilated=yes", "ventilated"},
    {"team=dedicated", "carried by a dedicated team"},
    {"team=sending-unit", "carried by the sending unit's own team"},
    {"escort_grade!=none", "an escort went along"},
    {"second_escort!=none", "a second attendant did"},
    {"escort_trained=yes", "escort trained for transfer"},
    {"airway_skilled=yes", "somebody aboard could secure an airway"},
    {"indemnity_confirmed=yes", "escort's cover confirmed"},
    {"base_cover=reduced|uncovered", "unit left with reduced cover or none"},
    {"adverse_event=yes", "an adverse event"},
    {"near_miss=yes", "a near miss"},
    {"harmed=yes", "an adverse event of moderate harm or worse"},
    {"events=any", "each adverse event"},
};

char *plainly_code(const char *code) {
    static const char *const kept[] = {"time", "non", "near", "high"};
    char *text = g_strdup(code);
    for (char *p = text; (p = strchr(p, '-')); p++) {
        bool keep = p == text || g_ascii_isdigit(p[-1]);
        for (unsigned i = 0; !keep && i < G_N_ELEMENTS(kept); i++) {
            const size_t n = strlen(kept[i]);
            keep = (size_t)(p - text) >= n && strncmp(p - n, kept[i], n) == 0;
        }
        if (!keep)
            *p = ' ';
    }
    return text;
}

// What a time is the time of: "departure", "team at the bedside". A literal.
static const char *time_words(FieldId time) {
    static const struct {
        FieldId field;
        const char *words;
    } times[] = {
        {FIELD_requested_at, "request"},          {FIELD_accepted_at, "acceptance"},
        {FIELD_team_ready_at, "team ready"},      {FIELD_at_patient_at, "team at the bedside"},
        {FIELD_departed_at, "departure"},         {FIELD_arrived_at, "arrival"},
        {FIELD_handed_over_at, "handover"},       {FIELD_returned_at, "team back"},
        {FIELD_ended_at, "end without departure"}};
    for (unsigned i = 0; i < G_N_ELEMENTS(times); i++)
        if (times[i].field == time)
            return times[i].words;
    return field_table[time].name;
}

// The codes that a term names: as they are, or in words. Free with g_ptr_array_unref.
static GPtrArray *codes_of(const ConditionTerm *term, bool words) {
    GPtrArray *codes = g_ptr_array_new_with_free_func(g_free);
    const Field *field = &field_table[term->field];
    if (term->any)
        g_ptr_array_add(codes, g_strdup("any"));
    else if (field->kind == KIND_UNIT)
        for (const char *const *unit = term->units; unit && *unit; unit++)
            g_ptr_array_add(codes, g_strdup(*unit));
    else
        for (unsigned v = 1; v <= field->codes->n; v++) {
            const char *code = field_code_text(field->codes, v);
            if (term->codes >> v & 1)
                g_ptr_array_add(codes, words ? plainly_code(code) : g_strdup(code));
        }
    return codes;
}

// The term as the catalogue would write it.
static char *written(const ConditionTerm *term) {
    GPtrArray *codes = codes_of(term, false);
    GString *out = g_string_new(field_table[term->field].name);
    g_string_append(out, term->negated ? "!=" : "=");
    for (guint i = 0; i < codes->len; i++)
        g_string_append_printf(out, "%s%s", i ? "|" : "", (char *)codes->pdata[i]);
    g_ptr_array_unref(codes);
    return g_string_free(out, FALSE);
}

static char *field_words(FieldId field) {
    return field == FIELD_events ? g_strdup("adverse event")
                                 : g_strdelimit(g_strdup(field_table[field].name), "_", ' ');
}

// "escort grade consultant, specialty doctor or senior trainee"; "capnography there or not needed".
static void append_codes(GString *out, const ConditionTerm *term) {
    GPtrArray *codes = codes_of(term, true);
    char *field = term->field == FIELD_events ? g_strdup("an adverse event of the kind")
                                              : field_words(term->field);
    const bool yes = codes->len > 0 && strcmp(codes->pdata[0], "yes") == 0;
    const bool alone = yes && codes->len == 1;
    g_string_append_printf(out, "%s%s%s", alone && term->negated ? "not " : "", field,
                           term->negated && !alone ? " not" : "");
    for (guint i = 0; !alone && i < codes->len; i++)
        g_string_append_printf(out, "%s%s",
                               i == 0                ? " "
                               : i + 1 == codes->len ? " or "
                                                     : ", ",
                               i == 0 && yes ? "there" : (char *)codes->pdata[i]);
    g_free(field);
    g_ptr_array_unref(codes);
}

char *plainly_condition(const Condition *condition) {
    GString *out = g_string_new(NULL);
    for (unsigned i = 0; i < condition_terms(condition); i++) {
        const ConditionTerm term = condition_term(condition, i);
        char *text = written(&term);
        const char *words = NULL;
        for (unsigned k = 0; !words && k < G_N_ELEMENTS(known); k++)
            words = strcmp(known[k].term, text) == 0 ? known[k].words : NULL;
        if (i > 0)
            g_string_append(out, " and ");
        if (words)
            g_string_append(out, words);
        else
            append_codes(out, &term);
        g_free(text);
    }
    return g_string_free(out, FALSE);
}

char *plainly_judged(const char *compare) {
    Condition *condition = compare ? condition_parse(compare, NULL) : NULL; // the catalogue's: good
    if (!condition || condition_terms(condition) == 0) {
        condition_free(condition);
        return g_strdup("");
    }
    char *words = plainly_condition(condition);
    char *text = g_strconcat(g_str_has_prefix(words, "carried") ? " " : ", only: ", words, NULL);
    condition_free(condition);
    g_free(words);
    return text;
}

char *plainly_counts(const Indicator *indicator) {
    if (indicator->events)
        return plainly_condition(indicator->events);
    if (indicator->measure == MEASURE_COUNT || indicator->measure == MEASURE_RATE)
        return g_strdup("each of them");
    if (indicator->measure == MEASURE_MIX) {
        char *field = field_words(indicator->field), *text = g_strdup_printf("each %s", field);
        g_free(field);
        return text;
    }
    return g_strdup_printf("%s, from %s to %s",
                           indicator->measure == MEASURE_OVERLAP
                               ? "time with two or more of a unit's teams away"
                               : "the time",
                           time_words(indicator->from), time_words(indicator->to));
}

char *plainly_among(const Indicator *indicator) {
    static const char departed[] = "departed";
    char *words = plainly_condition(indicator->among), *rest = words, *text;
    const bool transfers = g_str_has_prefix(words, departed);
    if (transfers)
        rest += strlen(departed);
    if (g_str_has_prefix(rest, " and "))
        rest += strlen(" and ");
    text = g_strdup_printf("%s%s%s", transfers ? "transfers" : "requests", *rest ? ": " : "", rest);
    g_free(words);
    return text;
}
