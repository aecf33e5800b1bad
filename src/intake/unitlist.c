// SPDX-License-Identifier: GPL-3.0-or-later
// Looks up each unit code once, and tells where the ones that are not listed first stand.
#include "intake/unitlist.h"

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

void unitlist_check(const Transfers *t, const Network *network, Findings *findings) {
    if (!network->units)
        return;
    bool *un = unlisted(t, network);
    check_field(t, FIELD_recorded_by, un, findings);
    check_field(t, FIELD_sending_unit, un, findings);
    check_field(t, FIELD_receiving_unit, un, findings);
    g_free(un);
}
