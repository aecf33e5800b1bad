// SPDX-License-Identifier: GPL-3.0-or-later
// Parsing and evaluating conditions.
#include "record/condition.h"

#include "record/network.h"

#include <string.h>

enum { EVENT_TERM = FIELD_COUNT };

typedef struct {
    int field; // FieldId of a coded or unit field, or EVENT_TERM
    bool negated;
    uint64_t codes; // bit v set: value v is listed
    bool any;       // event=any
    char **units;   // of a unit field: codes listed
} Term;

struct Condition {
    GArray *terms;
};

static void clear_term(gpointer data) {
    g_strfreev(((Term *)data)->units);
}

static bool fail(GError **error, const char *word, const char *why) {
    g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE, "'%s': %s", word, why);
    return false;
}

static bool read_codes(Term *term, char *codes, GError **error) {
    const CodeList *list = term->field == EVENT_TERM ? field_table[FIELD_events].codes
                                                     : field_table[term->field].codes;
    term->units = g_strsplit(codes, "|", -1);
    for (char **word = term->units; *word; word++) {
        g_strstrip(*word);
        if (**word == 0)
            return fail(error, codes, "a code is missing");
        if (term->field != EVENT_TERM && field_table[term->field].kind == KIND_UNIT)
            continue;
        if (term->field == EVENT_TERM && !strcmp(*word, "any")) {
            term->any = true;
            continue;
        }
        const uint8_t value = field_code(list, *word, strlen(*word));
        if (value == 0)
            return fail(error, *word, "no such code of this field");
        term->codes |= (uint64_t)1 << value;
    }
    return true;
}

static bool read_term(Term *term, char *text, GError **error) {
    char *equals = strchr(text, '=');
    if (!equals)
        return fail(error, g_strstrip(text), "a term is written field=code or field!=code");
    *term = (Term){0};
    term->negated = equals > text && equals[-1] == '!';
    *equals = 0;
    if (term->negated)
        equals[-1] = 0;
    g_strstrip(text);
    term->field = !strcmp(text, "event") ? EVENT_TERM : (int)field_find(text, strlen(text));
    if (term->field == FIELD_COUNT && strcmp(text, "event") != 0)
        return fail(error, text, "no such field");
    if (term->field != EVENT_TERM && field_table[term->field].kind != KIND_CODE &&
        field_table[term->field].kind != KIND_UNIT)
        return fail(error, text, "this field has no codes to compare with");
    return read_codes(term, equals + 1, error);
}

Condition *condition_parse(const char *text, GError **error) {
    Condition *c = g_new(Condition, 1);
    c->terms = g_array_new(FALSE, TRUE, sizeof(Term));
    g_array_set_clear_func(c->terms, clear_term);
    char **parts = g_strsplit(text, "&", -1);
    bool good = true;
    char *whole = g_strstrip(g_strdup(text));
    const bool always = *whole == 0 || !strcmp(whole, "all");
    g_free(whole);
    for (char **part = parts; good && !always && *part; part++) {
        Term term = {0};
        good = read_term(&term, *part, error);
        g_array_append_val(c->terms, term);
    }
    g_strfreev(parts);
    if (good)
        return c;
    condition_free(c);
    return NULL;
}

void condition_free(Condition *c) {
    if (!c)
        return;
    g_array_unref(c->terms);
    g_free(c);
}

static unsigned matching(const Term *term, const Transfers *t, size_t row) {
    size_t n;
    unsigned hits = 0;
    const Event *e = transfers_events_of(t, row, &n);
    for (size_t i = 0; i < n; i++)
        hits += e[i].harm != CODE_harm_NEAR_MISS &&
                (!term || term->any || (term->codes >> e[i].category & 1));
    return hits;
}

static ConditionValue term_value(const Term *term, const Transfers *t, size_t row) {
    bool listed;
    if (term->field == EVENT_TERM) {
        if (((const uint32_t *)t->column[FIELD_events])[row] == 0)
            return CONDITION_UNKNOWN;
        listed = matching(term, t, row) > 0;
    } else if (field_table[term->field].kind == KIND_UNIT) {
        const uint16_t unit = transfers_units(t, (FieldId)term->field)[row];
        if (unit == 0)
            return CONDITION_UNKNOWN;
        listed = g_strv_contains((const char *const *)term->units, t->units->pdata[unit]);
    } else {
        const uint8_t value = transfers_codes(t, (FieldId)term->field)[row];
        if (value == 0)
            return CONDITION_UNKNOWN;
        listed = term->codes >> value & 1;
    }
    return listed != term->negated ? CONDITION_TRUE : CONDITION_FALSE;
}

ConditionValue condition_value(const Condition *c, const Transfers *t, size_t row) {
    ConditionValue value = CONDITION_TRUE;
    for (guint i = 0; i < c->terms->len; i++) {
        const ConditionValue v = term_value(&g_array_index(c->terms, Term, i), t, row);
        if (v == CONDITION_FALSE)
            return v;
        if (v == CONDITION_UNKNOWN)
            value = v;
    }
    return value;
}

static const Term *event_term(const Condition *c) {
    for (guint i = 0; i < c->terms->len; i++)
        if (g_array_index(c->terms, Term, i).field == EVENT_TERM)
            return &g_array_index(c->terms, Term, i);
    return NULL;
}

unsigned condition_events(const Condition *c, const Transfers *t, size_t row) {
    return matching(event_term(c), t, row);
}

bool condition_has_event(const Condition *c) {
    return event_term(c) != NULL;
}
