// SPDX-License-Identifier: GPL-3.0-or-later
// Cells of a row that the guard looked at.
#include "intake/sights.h"

void sights_add(GArray *sights, uint32_t column, const GuardSight *sight) {
    const Sight seen = {column, *sight};
    g_array_append_val(sights, seen);
}

void sights_look(GArray *sights, FieldId f, uint32_t column, const char *text, size_t length) {
    GuardSight sight = guard_look(text, length);
    if (f < FIELD_STORED && field_table[f].kind == KIND_UNIT) {
        sight.name = sight.postcode = false;
        sight.stray = !guard_may_show(text, length);
    }
    sights_add(sights, column, &sight);
}

void sights_tally(const GArray *sights, GuardColumn *guard, uint32_t line) {
    for (guint i = 0; i < sights->len; i++) {
        const Sight *seen = &g_array_index(sights, Sight, i);
        guard_add(&guard[seen->column], &seen->sight, line);
    }
}
