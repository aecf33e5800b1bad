// SPDX-License-Identifier: GPL-3.0-or-later
// Writing base-cover.csv.
#include "pack/covertable.h"

#include "base/csvtable.h"
#include "pack/tables.h"

#include <math.h>

typedef struct {
    GString *out;
    const char *unit;
} Writer;

// One row; counts below 0 are empty cells.
static void row(const Writer *w, const char *figure, const char *group, const double *counts,
                const StatsInterval *v, const char *scale) {
    csvtable_append(w->out, w->unit);
    g_string_append_printf(w->out, ",%s,%s,", figure, group);
    for (int i = 0; i < 3; i++) {
        if (counts && counts[i] >= 0)
            tables_number(w->out, counts[i]);
        g_string_append_c(w->out, ',');
    }
    tables_number(w->out, v->estimate);
    g_string_append_c(w->out, ',');
    tables_number(w->out, v->lower);
    g_string_append_c(w->out, ',');
    tables_number(w->out, v->upper);
    g_string_append_printf(w->out, ",%s\n", scale);
}

static void plain(const Writer *w, const char *figure, const char *group, double value,
                  const char *scale) {
    const StatsInterval v = {value, NAN, NAN};
    row(w, figure, group, NULL, &v, scale);
}

static void hours(const Writer *w, const char *group, const CoverHours *h) {
    const double counts[] = {(double)h->absences, -1, -1};
    row(w, "hours", group, counts, &h->hours, "hours");
    row(w, "hours_per_week", group, counts, &h->per_week, "hours per week");
    row(w, "hours_per_transfer", group, counts, &h->per_transfer, "hours per transfer");
    plain(w, "whole_time", group, h->whole_time, "whole-time people");
}

static void share(const Writer *w, const char *figure, const char *group, const CoverShare *s) {
    const double counts[] = {(double)s->events, (double)s->total, (double)s->unknown};
    row(w, figure, group, counts, &s->share, "proportion");
}

static void all_hours(const Writer *w, const CoverUnit *u) {
    const CodeList *grades = field_table[FIELD_escort_grade].codes,
                   *seconds = field_table[FIELD_second_escort].codes;
    hours(w, "all", &u->all);
    for (unsigned k = 1; k <= CODE_escort_grade_END; k++) { // unknown last
        const unsigned c = k % CODE_escort_grade_END;
        char *group = g_strconcat("escort_grade=", field_code_text(grades, c), NULL);
        hours(w, group, &u->by_grade[c]);
        g_free(group);
    }
    for (unsigned k = 1; k <= CODE_second_escort_END; k++) {
        const unsigned c = k % CODE_second_escort_END;
        char *group = g_strconcat("second_escort=", field_code_text(seconds, c), NULL);
        hours(w, group, &u->by_second[c]);
        g_free(group);
    }
    hours(w, "with_second_escort", &u->with_second);
    hours(w, "reason_group=clinical", &u->clinical);
    hours(w, "reason_group=non-clinical", &u->non_clinical);
    hours(w, "reason_group=repatriation", &u->repatriation);
    plain(w, "people_whole_time", "all", u->people_whole_time, "whole-time people");
}

static void account(const Writer *w, const CoverUnit *u) {
    plain(w, "absences", "all", (double)u->transfers, "count");
    plain(w, "absences", "incomplete", (double)u->incomplete, "count");
    plain(w, "absences", "not known whether one", (double)u->maybe, "count");
    plain(w, "hours_at_least", "all", u->hours_at_least, "hours");
    plain(w, "hours_at_most", "all", u->hours_at_most, "hours");
    plain(w, "hours_if_incomplete_like_the_rest", "all", u->hours_if_alike, "hours");
}

static void at_once(const Writer *w, const CoverUnit *u) {
    static const char *const levels[COVER_AT_ONCE] = {"1 or more", "2 or more", "3 or more",
                                                      "4 or more"};
    for (int k = 0; k < COVER_AT_ONCE; k++)
        plain(w, "hours_with_away", levels[k], u->at_least[k], "hours");
    for (int k = 1; k < COVER_AT_ONCE; k++)
        row(w, "share_of_time_away", levels[k], NULL, &u->overlapping[k], "proportion");
    plain(w, "most_at_once", "all", u->most_at_once, "count");
    plain(w, "longest_absence", "all", u->longest_absence, "hours");
    plain(w, "longest_stretch", levels[0], u->longest_stretch, "hours");
    plain(w, "longest_stretch", levels[1], u->longest_stretch_of_two, "hours");
}

static void week(const Writer *w, const CoverUnit *u) {
    static const char *const days[] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};
    for (int h = 0; h < COVER_WEEK_HOURS; h++) {
        char *group = g_strdup_printf("%s %02d", days[h / 24], h % 24);
        plain(w, "hours_by_hour", group, u->by_hour[h], "hours");
        plain(w, "mean_away", group, u->mean_away[h], "count");
        plain(w, "hours_with_two_by_hour", group, u->two_by_hour[h], "hours");
        g_free(group);
    }
}

GString *covertable_csv(const Cover *cover, const Transfers *t) {
    Writer w = {g_string_new("unit,figure,group,events,total,unknown,estimate,lower,upper,scale\n"),
                NULL};
    const CodeList *covers = field_table[FIELD_base_cover].codes;
    for (guint i = 0; i < cover->units->len; i++) {
        const CoverUnit *u = cover->units->pdata[i];
        w.unit = u->unit ? t->units->pdata[u->unit] : "all";
        account(&w, u);
        all_hours(&w, u);
        share(&w, "out_of_hours", "absences", &u->out_of_hours);
        row(&w, "out_of_hours", "hours", NULL, &u->hours_out_of_hours, "proportion");
        for (unsigned c = 1; c < CODE_base_cover_END; c++)
            share(&w, "base_cover", field_code_text(covers, c), &u->cover[c]);
        share(&w, "base_cover", "reduced or uncovered", &u->cover[0]);
        at_once(&w, u);
        week(&w, u);
    }
    return w.out;
}
