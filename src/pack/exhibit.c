// SPDX-License-Identifier: GPL-3.0-or-later
// The chart table, and making all of it.
#include "pack/exhibit.h"

#include "pack/exhibit_mix.h"
#include "pack/exhibit_rows.h"
#include "pack/exhibit_trend.h"
#include "pack/exhibit_wait.h"

const ExhibitKind exhibit_kinds[] = {
    {"non-clinical-by-quarter", THEME_WHY, exhibit_trend_quarters, "non_clinical_share",
     FIELD_COUNT, NULL, true},
    {"non-clinical-by-unit", THEME_WHY, exhibit_rows_units, "non_clinical_share", FIELD_COUNT, NULL,
     true},
    {"time-to-departure", THEME_WAIT, exhibit_wait_quantiles, "time_to_departure", FIELD_urgency,
     NULL, true},
    {"escort-grades", THEME_ESCORT, exhibit_mix_stack, "escort_grade_mix", FIELD_out_of_hours, NULL,
     true},
    {"adverse-events-by-unit", THEME_EVENTS, exhibit_rows_units, "adverse_events_per_100_transfers",
     FIELD_COUNT, NULL, true},
};
const guint exhibit_n_kinds = G_N_ELEMENTS(exhibit_kinds);

static void free_exhibit(gpointer data) {
    Exhibit *x = data;
    chart_free(x->chart);
    sheet_free(x->sheet);
    g_free(x);
}

Exhibit *exhibit_new(const ExhibitKind *kind, Chart *chart, Sheet *sheet) {
    Exhibit *x = g_new0(Exhibit, 1);
    x->kind = kind;
    x->chart = chart;
    x->sheet = sheet;
    return x;
}

GPtrArray *exhibit_all(const Source *s) {
    GPtrArray *list = g_ptr_array_new_with_free_func(free_exhibit);
    for (guint k = 0; k < exhibit_n_kinds; k++) {
        const ExhibitKind *kind = &exhibit_kinds[k];
        if (s->focus && !kind->in_units)
            continue;
        Exhibit *x = kind->build(s, kind);
        if (!x)
            continue;
        if (x->chart)
            x->chart->name = s->focus ? g_strdup_printf("unit-%u-%s", s->focus, kind->name)
                                      : g_strdup(kind->name);
        g_ptr_array_add(list, x);
    }
    return list;
}
