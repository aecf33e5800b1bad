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
    if (!*term->units)
        return fail(error, codes, "a code is missing");
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

// Lowers value[0..n) to the term's own value where that is less.
static void lower_by_event(const Term *term, const Transfers *t, size_t first, size_t n,
                           uint8_t *value) {
    const uint32_t *list = t->column[FIELD_events];
    for (size_t i = 0; i < n; i++) {
        const uint8_t own = !list || list[first + i] == 0 ? CONDITION_UNKNOWN
                            : (matching(term, t, first + i) > 0) != term->negated ? CONDITION_TRUE
                                                                                  : CONDITION_FALSE;
        value[i] = MIN(value[i], own);
    }
}

static void lower_by_unit(const Term *term, const Transfers *t, size_t first, size_t n,
                          uint8_t *value) {
    const uint16_t *unit = t->column[term->field];
    GArray *listed = g_array_new(FALSE, FALSE, sizeof(uint16_t)); // those of the units that occur
    for (char **code = term->units; *code; code++) {
        const uint16_t index =
            (uint16_t)GPOINTER_TO_UINT(g_hash_table_lookup(t->unit_index, *code));
        if (index != 0)
            g_array_append_val(listed, index);
    }
    for (size_t i = 0; i < n; i++) {
        const uint16_t u = unit ? unit[first + i] : 0;
        bool found = false;
        for (guint k = 0; k < listed->len && !found; k++)
            found = g_array_index(listed, uint16_t, k) == u;
        const uint8_t own = u == 0                   ? CONDITION_UNKNOWN
                            : found != term->negated ? CONDITION_TRUE
                                                     : CONDITION_FALSE;
        value[i] = MIN(value[i], own);
    }
    g_array_unref(listed);
}

static void lower_by_code(const Term *term, const Transfers *t, size_t first, size_t n,
                          uint8_t *value) {
    const uint8_t *code = t->column[term->field];
    if (!code) {
        for (size_t i = 0; i < n; i++)
            value[i] = MIN(value[i], CONDITION_UNKNOWN);
        return;
    }
    uint8_t own[256] = {[0] = CONDITION_UNKNOWN};
    for (unsigned v = 1; v < 64; v++)
        own[v] = (term->codes >> v & 1) != term->negated ? CONDITION_TRUE : CONDITION_FALSE;
    for (size_t i = 0; i < n; i++)
        value[i] = MIN(value[i], own[code[first + i]]);
}

void condition_fill(const Condition *c, const Transfers *t, size_t first, size_t n,
                    uint8_t *value) {
    memset(value, CONDITION_TRUE, n);
    for (guint k = 0; k < c->terms->len; k++) {
        const Term *term = &g_array_index(c->terms, Term, k);
        if (term->field == EVENT_TERM)
            lower_by_event(term, t, first, n, value);
        else if (field_table[term->field].kind == KIND_UNIT)
            lower_by_unit(term, t, first, n, value);
        else
            lower_by_code(term, t, first, n, value);
    }
}

ConditionValue condition_value(const Condition *c, const Transfers *t, size_t row) {
    uint8_t value;
    condition_fill(c, t, row, 1, &value);
    return (ConditionValue)value;
}

// The term that says which events are counted. A negated one names events that are not there.
static const Term *event_term(const Condition *c) {
    for (guint i = 0; i < c->terms->len; i++) {
        const Term *term = &g_array_index(c->terms, Term, i);
        if (term->field == EVENT_TERM && !term->negated)
            return term;
    }
    return NULL;
}

unsigned condition_events(const Condition *c, const Transfers *t, size_t row) {
    return matching(event_term(c), t, row);
}

bool condition_has_event(const Condition *c) {
    return event_term(c) != NULL;
}

unsigned condition_terms(const Condition *c) {
    return c->terms->len;
}

ConditionTerm condition_term(const Condition *c, unsigned i) {
    const Term *term = &g_array_index(c->terms, Term, i);
    return (ConditionTerm){.field = term->field == EVENT_TERM ? FIELD_events : (FieldId)term->field,
                           .negated = term->negated,
                           .any = term->any,
                           .codes = term->codes,
                           .units = (const char *const *)term->units};
}
