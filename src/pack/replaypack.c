// SPDX-License-Identifier: GPL-3.0-or-later
// Writing a replay's tables.
#include "pack/replaypack.h"

#include "base/csvtable.h"
#include "pack/tables.h"

#include <math.h>

static const char *roster_name(const Trial *r, unsigned roster) {
    return ((RulesRoster *)r->rules->rosters->pdata[roster])->name;
}

static void figure(GString *out, const Trial *r, const TrialScenario *s, const char *name,
                   const StatsInterval *v, const char *scale) {
    csvtable_append_cell(out, roster_name(r, s->roster));
    g_string_append_printf(out, "%u,%s,", s->teams, name);
    tables_number_cell(out, v->estimate);
    tables_number_cell(out, v->lower);
    tables_number_cell(out, v->upper);
    tables_number_cell(out, r->settings.confidence);
    g_string_append_printf(out, "%u,%s\n", isnan(v->lower) ? 0 : r->settings.replicates, scale);
}

GString *replaypack_figures(const Trial *trial) {
    GString *out = g_string_new("roster,teams,measure,estimate,lower,upper,confidence,replicates,"
                                "scale\n");
    for (guint i = 0; i < trial->scenarios->len; i++) {
        const TrialScenario *s = &g_array_index(trial->scenarios, TrialScenario, i);
        const StatsInterval ends[] = {{(double)trial->demand->n, NAN, NAN},
                                      {(double)s->reached, NAN, NAN},
                                      {(double)s->busy, NAN, NAN},
                                      {(double)s->off_duty, NAN, NAN}};
        static const char *const names[] = {"requests", "requests_reached", "requests_left_busy",
                                            "requests_left_off_duty"};
        for (size_t k = 0; k < G_N_ELEMENTS(ends); k++)
            figure(out, trial, s, names[k], &ends[k], "count");
        for (int m = 0; m < TRIAL_MEASURES; m++)
            figure(out, trial, s, trial_measures[m].name, &s->value[m], trial_measures[m].scale);
    }
    return out;
}

static void travel_row(GString *out, GHashTable *seen, const Trial *r, const Transfers *t,
                       uint16_t from, uint16_t to) {
    static const char *const basis[] = {"same-site", "journeys", "distance", "typical"};
    if (!g_hash_table_add(seen, GUINT_TO_POINTER((guint)from << 16 | to)))
        return;
    const TravelLeg leg = travel_leg(r->demand->travel, from, to);
    csvtable_append_cell(out, t->units->pdata[from]);
    csvtable_append_cell(out, t->units->pdata[to]);
    g_string_append_printf(out, "%d,%s,%u,", leg.minutes, basis[leg.basis], leg.journeys);
    tables_number(out, leg.km);
    g_string_append_c(out, '\n');
}

GString *replaypack_travel(const Trial *trial, const Transfers *t) {
    const Demand *d = trial->demand;
    GString *out = g_string_new("from,to,minutes,basis,journeys,km\n");
    GHashTable *seen = g_hash_table_new(NULL, NULL);
    for (guint i = 0; i < d->routes->len; i++) {
        const DemandRoute *route = &g_array_index(d->routes, DemandRoute, i);
        travel_row(out, seen, trial, t, route->from, route->to);
        for (unsigned k = 0; k < d->teams; k++) {
            travel_row(out, seen, trial, t, d->base[k], route->from);
            travel_row(out, seen, trial, t, route->to, d->base[k]);
        }
    }
    g_hash_table_unref(seen);
    return out;
}

static void request_row(GString *out, const Trial *r, const Transfers *t, size_t i,
                        const EngineAnswer *a) {
    static const char *const states[] = {"", "reached", "left-busy", "left-off-duty"};
    const Demand *d = r->demand;
    g_string_append_printf(out, "%u,%s,", t->line[d->row[i]], states[a->state]);
    if (a->state != ENGINE_REACHED) {
        g_string_append(out, ",,,,\n");
        return;
    }
    const size_t at = (size_t)d->request[i].route * d->teams + a->team;
    const int32_t sent = a->dispatched - d->request[i].at;
    g_string_append_printf(out, "%u,", a->team + 1u);
    csvtable_append_cell(out, t->units->pdata[d->base[a->team]]);
    g_string_append_printf(out, "%d,%d,%d\n", sent, sent + d->reach[at], sent + d->busy[at]);
}

GString *replaypack_requests(const Trial *trial, const Transfers *t, const char *const *names) {
    GString *out = g_string_new("roster,teams,file,line,state,team,base,sent_after,bedside_after,"
                                "free_after\n");
    for (guint k = 0; k < trial->scenarios->len; k++) {
        const TrialScenario *s = &g_array_index(trial->scenarios, TrialScenario, k);
        EngineAnswer *answers = trial_answers(trial, s->roster, s->teams);
        for (size_t i = 0; i < trial->demand->n; i++) {
            csvtable_append_cell(out, roster_name(trial, s->roster));
            g_string_append_printf(out, "%u,", s->teams);
            csvtable_append_cell(out, names[t->file[trial->demand->row[i]]]);
            request_row(out, trial, t, i, &answers[i]);
        }
        g_free(answers);
    }
    return out;
}
