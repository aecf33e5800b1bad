// SPDX-License-Identifier: GPL-3.0-or-later
// The chart table, and making all of it.
#include "pack/exhibit.h"

#include "pack/exhibit_control.h"
#include "pack/exhibit_cover.h"
#include "pack/exhibit_curves.h"
#include "pack/exhibit_ends.h"
#include "pack/exhibit_funnel.h"
#include "pack/exhibit_grid.h"
#include "pack/exhibit_harm.h"
#include "pack/exhibit_heat.h"
#include "pack/exhibit_items.h"
#include "pack/exhibit_mix.h"
#include "pack/exhibit_model.h"
#include "pack/exhibit_panels.h"
#include "pack/exhibit_rows.h"
#include "pack/exhibit_trend.h"
#include "pack/exhibit_wait.h"
#include "pack/mixwords.h"

#include <math.h>

#define NONE FIELD_COUNT

// clang-format off
const ExhibitKind exhibit_kinds[] = {
    {"transfers-by-month", THEME_DEMAND, exhibit_control_chart, "transfers", NONE, NULL, true},
    {"transfers-by-unit", THEME_DEMAND, exhibit_rows_units, "transfers_per_week", NONE, NULL, true},
    {"departures-by-hour", THEME_DEMAND, exhibit_heat_hours, NULL, NONE, NULL, false},
    {"out-of-hours-by-unit", THEME_DEMAND, exhibit_rows_units, "out_of_hours_share", NONE, NULL, false},
    {"flow", THEME_DEMAND, exhibit_heat_flow, NULL, NONE, NULL, false},
    {"non-clinical-control", THEME_WHY, exhibit_control_chart, "non_clinical_share", NONE, NULL, false},
    {"non-clinical-by-quarter", THEME_WHY, exhibit_trend_quarters, "non_clinical_share", NONE, NULL, true},
    {"non-clinical-by-unit", THEME_WHY, exhibit_rows_units, "non_clinical_share", NONE, NULL, false},
    {"non-clinical-funnel", THEME_WHY, exhibit_funnel_crude, "non_clinical_share", NONE, NULL, true},
    {"non-clinical-panels", THEME_WHY, exhibit_panels_units, "non_clinical_share", NONE, NULL, false},
    {"repatriation-by-unit", THEME_WHY, exhibit_rows_units, "repatriation_share", NONE, NULL, false},
    {"time-to-departure", THEME_WAIT, exhibit_wait_quantiles, "time_to_departure", FIELD_urgency, NULL, true},
    {"departed-by-time", THEME_WAIT, exhibit_curves_left, NULL, NONE, NULL, false},
    {"stood-down-by-time", THEME_WAIT, exhibit_curves_stood_down, NULL, NONE, NULL, false},
    {"died-by-time", THEME_WAIT, exhibit_curves_died, NULL, NONE, NULL, false},
    {"phases", THEME_WAIT, exhibit_curves_phases, NULL, NONE, NULL, false},
    {"time-to-departure-control", THEME_WAIT, exhibit_control_chart, "time_to_departure", NONE, NULL, false},
    {"time-to-departure-run", THEME_WAIT, exhibit_control_run, "time_to_departure", NONE, NULL, false},
    {"in-time-by-quarter", THEME_WAIT, exhibit_trend_quarters, "departed_in_time_share", NONE, NULL, false},
    {"in-time-by-unit", THEME_WAIT, exhibit_rows_units, "departed_in_time_share", NONE, NULL, true},
    {"in-time-adjusted", THEME_WAIT, exhibit_funnel_adjusted, "departed_in_time_share", NONE, NULL, false},
    {"in-time-model", THEME_WAIT, exhibit_model_odds, "departed_in_time_share", NONE, NULL, false},
    {"medians-compared", THEME_WAIT, exhibit_funnel_crude, "time_to_departure", NONE, NULL, false},
    {"delay-reasons", THEME_WAIT, exhibit_mix_stack, "delay_reason_mix", FIELD_urgency, NULL, false},
    {"escort-grades", THEME_ESCORT, exhibit_mix_stack, "escort_grade_mix", FIELD_out_of_hours, NULL, true},
    {"trained-funnel", THEME_ESCORT, exhibit_funnel_crude, "trained_escort_share", NONE, NULL, false},
    {"trained-by-unit", THEME_ESCORT, exhibit_rows_units, "trained_escort_share", NONE, NULL, true},
    {"dedicated-by-quarter", THEME_ESCORT, exhibit_trend_quarters, "dedicated_team_share", NONE, NULL, false},
    {"harm-ladder", THEME_EVENTS, exhibit_harm_ladder, NULL, NONE, NULL, false},
    {"adverse-events-by-unit", THEME_EVENTS, exhibit_rows_units, "adverse_events_per_100_transfers", NONE, NULL, false},
    {"adverse-events-funnel", THEME_EVENTS, exhibit_funnel_crude, "adverse_event_share", NONE, NULL, false},
    {"adverse-events-adjusted", THEME_EVENTS, exhibit_funnel_adjusted, "adverse_event_share", NONE, NULL, true},
    {"adverse-events-model", THEME_EVENTS, exhibit_model_odds, "adverse_event_share", NONE, NULL, false},
    {"adverse-events-control", THEME_EVENTS, exhibit_control_chart, "adverse_event_share", NONE, NULL, false},
    {"harm-control", THEME_EVENTS, exhibit_control_chart, "harm_share", NONE, NULL, false},
    {"adverse-events-by-quarter", THEME_EVENTS, exhibit_trend_quarters, "adverse_event_share", NONE, NULL, true},
    {"adverse-events-by-team", THEME_EVENTS, exhibit_rows_groups, "adverse_event_share", FIELD_team, NULL, false},
    {"adverse-events-ventilated", THEME_EVENTS, exhibit_rows_groups, "adverse_event_share", FIELD_ventilated, NULL, false},
    {"equipment-and-papers", THEME_EQUIPMENT, exhibit_items_dots, NULL, NONE, NULL, true},
    {"equipment-by-unit", THEME_EQUIPMENT, exhibit_rows_units, "equipment_ready_share", NONE, NULL, true},
    {"papers-control", THEME_EQUIPMENT, exhibit_control_chart, "papers_complete_share", NONE, NULL, false},
    {"papers-funnel", THEME_EQUIPMENT, exhibit_funnel_crude, "papers_complete_share", NONE, NULL, false},
    {"papers-by-unit", THEME_EQUIPMENT, exhibit_rows_units, "papers_complete_share", NONE, NULL, true},
    {"left-short-control", THEME_BASE, exhibit_control_chart, "base_cover_reduced_share", NONE, NULL, false},
    {"left-short-funnel", THEME_BASE, exhibit_funnel_crude, "base_cover_reduced_share", NONE, NULL, false},
    {"left-short-by-unit", THEME_BASE, exhibit_rows_units, "base_cover_reduced_share", NONE, NULL, true},
    {"hours-away-by-unit", THEME_BASE, exhibit_rows_units, "team_hours_away", NONE, NULL, true},
    {"hours-away", THEME_BASE, exhibit_cover_hours, NULL, NONE, NULL, true},
    {"hours-away-by-grade", THEME_BASE, exhibit_cover_grades, NULL, NONE, NULL, true},
    {"left-behind", THEME_BASE, exhibit_cover_left, NULL, NONE, NULL, true},
    {"away-at-once", THEME_BASE, exhibit_cover_at_once, NULL, NONE, NULL, true},
    {"teams-away-by-hour", THEME_BASE, exhibit_grid_away, NULL, NONE, NULL, true},
    {"two-away-by-hour", THEME_BASE, exhibit_grid_two, NULL, NONE, NULL, false},
    {"both-ends", THEME_QUALITY, exhibit_ends_agreement, NULL, NONE, NULL, false},
    {"never-logged", THEME_QUALITY, exhibit_ends_recorded, NULL, NONE, NULL, true},
    {"records-by-month", THEME_QUALITY, exhibit_grid_months, NULL, NONE, NULL, true},
    {"completeness", THEME_QUALITY, exhibit_heat_completeness, NULL, NONE, NULL, false},
};
// clang-format on
const guint exhibit_n_kinds = G_N_ELEMENTS(exhibit_kinds);

void exhibit_free(gpointer exhibit) {
    Exhibit *x = exhibit;
    chart_free(x->chart);
    sheet_free(x->sheet);
    g_free(x->note);
    g_free(x);
}

int exhibit_width(const Source *s) {
    return s->focus ? CHART_NARROW : CHART_WIDTH;
}

Exhibit *exhibit_new(const ExhibitKind *kind, Chart *chart, Sheet *sheet) {
    Exhibit *x = g_new0(Exhibit, 1);
    x->kind = kind;
    x->chart = chart;
    x->sheet = sheet;
    return x;
}

// What the worst of the unknown could make of a share. Conjunctions are lowered by blanks: what is
// false is known of more records than what is true.
static void add_bounds(GString *text, const Estimate *r, const Indicator *i, bool remark) {
    if (r->unknown == 0 || !isfinite(r->if_none)) {
        g_string_append_c(text, '.');
        return;
    }
    char *none = words_figure(WORDS_PERCENT, r->if_none, 0),
         *all = words_figure(WORDS_PERCENT, r->if_all, 0);
    g_string_append_printf(text, ": %s if none of them counts, %s if all do.%s", none, all,
                           remark && i->events && condition_terms(i->events) > 1
                               ? " Of its parts one that is wanting settles a record, a blank "
                                 "leaves it unknown: blanks push this share down."
                               : "");
    g_free(none);
    g_free(all);
}

char *exhibit_rests(double n, double unknown, const char *thing) {
    char *of = words_figure(WORDS_COUNT, n, 0), *lacking = words_figure(WORDS_COUNT, unknown, 0),
         *text = g_strdup_printf("Rests on %s %s%s%s%s%s", of, thing, n == 1 ? "" : "s",
                                 unknown > 0 ? "; for " : "", unknown > 0 ? lacking : "",
                                 unknown > 0 ? " more it is not known" : ", all that there are");
    g_free(of);
    g_free(lacking);
    return text;
}

// What an estimate rests on; on a unit's page without the remark on blanks.
static GString *rests_on(const Indicator *i, const Estimate *r, bool remark) {
    GString *text = g_string_new(NULL);
    const char *unknown = r->unknown == 1 ? "transfer" : "transfers";
    if (i->measure == MEASURE_RATE && i->exposure != EXPOSURE_WEEKS)
        g_string_printf(text, "Counts %.0f event%s; for %" G_GUINT64_FORMAT " %s it is not known",
                        r->events, r->events == 1 ? "" : "s", (guint64)r->unknown, unknown);
    else {
        const bool counted = i->measure == MEASURE_RATE || i->measure == MEASURE_COUNT;
        char *words =
            exhibit_rests(counted || i->measure == MEASURE_HOURS ? r->events : r->total,
                          (double)r->unknown, i->measure == MEASURE_HOURS ? "absence" : "transfer");
        g_string_assign(text, words);
        g_free(words);
    }
    add_bounds(text, r, i, remark);
    return text;
}

// An indicator's remark as a sentence of its own.
static void add_remark(GString *text, const Indicator *i) {
    if (!*i->note)
        return;
    const gsize at = text->len + 1;
    g_string_append_printf(text, " %s.", i->note);
    text->str[at] = g_ascii_toupper(text->str[at]);
}

// What the kind's indicator rests on, and for how many it is not known.
static char *note_of(const Source *s, const ExhibitKind *kind) {
    if (!kind->indicator)
        return NULL;
    LookupKey key = lookup_key(kind->indicator);
    key.unit = s->focus;
    const Estimate *r = lookup_row(s->lookup, &key);
    const Indicator *i = lookup_indicator(s->lookup, kind->indicator);
    for (uint16_t part = 1; i && !r && i->measure == MEASURE_MIX && part < 64; part++) {
        key.part = part;
        r = lookup_row(s->lookup, &key);
    }
    if (!r || !i)
        return NULL;
    GString *text = rests_on(i, r, !s->focus);
    add_remark(text, i);
    char *units = s->focus || i->measure != MEASURE_MIX ? NULL : mixwords_units(s, i);
    if (units)
        g_string_append_printf(text, " %s", units);
    g_free(units);
    return g_string_free(text, FALSE);
}

GPtrArray *exhibit_all(const Source *s) {
    GPtrArray *list = g_ptr_array_new_with_free_func(exhibit_free);
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
        if (kind->indicator && !x->note)
            x->note = note_of(s, kind);
        g_ptr_array_add(list, x);
    }
    return list;
}
