// SPDX-License-Identifier: GPL-3.0-or-later
// Looks up each unit code once, and tells where the ones that are not listed first stand.
#include "intake/unitlist.h"

#include "intake/reader.h"

bool unitlist_believable(const Transfers *t, GError **error) {
    enum { MANY = 500, FEW = 2 };
    const uint16_t *from = transfers_units(t, FIELD_sending_unit);
    bool *sends = g_new0(bool, t->units->len);
    size_t units = 0;
    for (size_t i = 0; i < t->n; i++) {
        units += !sends[from[i]];
        sends[from[i]] = true;
    }
    g_free(sends);
    if (units <= MANY || t->n >= FEW * units)
        return true;
    g_set_error(error, READER_ERROR, READER_ERROR_REFUSED,
                "%zu transfers from %zu different units: is the right column read as sending_unit?",
                t->n, units);
    return false;
}

// Which of the units seen are not listed; the place of "", no unit, stays false.
static bool *unlisted(const Transfers *t, const Network *network) {
    bool *un = g_new0(bool, t->units->len);
    for (guint u = 1; u < t->units->len; u++)
        un[u] = !g_hash_table_contains(network->units, t->units->pdata[u]);
    return un;
}

static void tell(const Transfers *t, size_t row, FieldId field, Findings *findings) {
    const Finding f = {.file = t->file[row],
                       .line = t->line[row],
                       .field = (int)field,
                       .severity = SEVERITY_NOTE,
                       .code = "unit-unlisted",
                       .message = "units.csv lacks this unit code; it is used as it stands, here "
                                  "for the first time in this log"};
    finding_add(findings, &f, NULL, 0);
}

static void check_field(const Transfers *t, FieldId field, const bool *un, Findings *findings) {
    const uint16_t *unit = transfers_units(t, field);
    GHashTable *told = g_hash_table_new(NULL, NULL); // file and unit
    for (size_t i = 0; i < t->n; i++)
        if (un[unit[i]] &&
            g_hash_table_add(told, GUINT_TO_POINTER((guint)t->file[i] << 16 | unit[i])))
            tell(t, i, field, findings);
    g_hash_table_unref(told);
}

// A code without what people vary: case, blanks and signs. To be freed.
static char *folded(const char *code) {
    char *text = g_utf8_casefold(code, -1);
    GString *out = g_string_new(NULL);
    for (const char *p = text; *p; p = g_utf8_next_char(p))
        if (g_unichar_isalnum(g_utf8_get_char(p)))
            g_string_append_unichar(out, g_utf8_get_char(p));
    g_free(text);
    if (out->len == 0)
        g_string_assign(out, code);
    return g_string_free(out, FALSE);
}

static void tell_alike(const Transfers *t, size_t row, FieldId field, Findings *findings) {
    const Finding f = {.file = t->file[row],
                       .line = t->line[row],
                       .field = (int)field,
                       .severity = SEVERITY_NOTE,
                       .code = "unit-alike",
                       .message = "this unit code, here for the first time, differs from another "
                                  "only in case, blanks or signs; they count as two units"};
    finding_add(findings, &f, NULL, 0);
}

static void check_alike(const Transfers *t, Findings *findings) {
    static const FieldId ends[] = {FIELD_sending_unit, FIELD_receiving_unit};
    bool *alike = g_new0(bool, t->units->len);
    GHashTable *seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    bool any = false;
    for (guint u = 1; u < t->units->len; u++)
        any = (alike[u] = !g_hash_table_add(seen, folded(t->units->pdata[u]))) || any;
    for (size_t i = 0; any && i < t->n; i++)
        for (size_t e = 0; e < G_N_ELEMENTS(ends); e++) {
            const uint16_t unit = transfers_units(t, ends[e])[i];
            if (alike[unit])
                tell_alike(t, i, ends[e], findings);
            alike[unit] = false;
        }
    g_hash_table_unref(seen);
    g_free(alike);
}

void unitlist_check(const Transfers *t, const Network *network, Findings *findings) {
    if (!network->units) {
        check_alike(t, findings);
        return;
    }
    bool *un = unlisted(t, network);
    check_field(t, FIELD_recorded_by, un, findings);
    check_field(t, FIELD_sending_unit, un, findings);
    check_field(t, FIELD_receiving_unit, un, findings);
    g_free(un);
}
