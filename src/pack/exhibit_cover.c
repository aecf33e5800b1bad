// SPDX-License-Identifier: GPL-3.0-or-later
// Base cover as tables.
#include "pack/exhibit_cover.h"

#include <math.h>

typedef void (*Head)(Sheet *sheet);
typedef void (*Line)(Sheet *sheet, const CoverUnit *u);

static void interval(Sheet *sheet, const StatsInterval *v) {
    sheet_interval(sheet, v->estimate, v->lower, v->upper);
}

// NaN where no absence is whole, so that the hours of none are known: 0 they are not.
static double of_whole(const CoverUnit *u, double value) {
    return u->all.absences == 0 && u->incomplete > 0 ? NAN : value;
}

static const CoverUnit *unit_of(const Source *s, uint16_t unit) {
    const Cover *cover = s->counts->cover;
    for (guint i = 0; i < cover->units->len; i++) {
        const CoverUnit *u = cover->units->pdata[i];
        if (u->unit == unit)
            return u;
    }
    return NULL;
}

// A line a unit; NULL where nobody was away.
static Sheet *by_unit(const Source *s, const char *caption, Head head, Line line) {
    const CoverUnit *shown = unit_of(s, s->focus);
    if (!shown || shown->transfers == 0)
        return NULL;
    Sheet *sheet = sheet_new(caption);
    sheet_column(sheet, "Sending unit", SHEET_TEXT, WORDS_COUNT);
    head(sheet);
    for (guint i = 0; i < s->counts->cover->units->len; i++) {
        const CoverUnit *u = s->counts->cover->units->pdata[i];
        if ((s->focus && u->unit && u->unit != s->focus) || (words_single(s->e) && !u->unit))
            continue;
        sheet_text(sheet, u->unit ? words_unit_name(s->e, s->network, u->unit) : "The network");
        line(sheet, u);
    }
    return sheet;
}

// ---- hours ----

static void hours_head(Sheet *sheet) {
    sheet_column(sheet, "Absences", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "Hours a week", SHEET_INTERVAL, WORDS_RATE);
    sheet_column(sheet, "Hours for each transfer", SHEET_INTERVAL, WORDS_RATE);
    sheet_column(sheet, "Whole-time people", SHEET_NUMBER, WORDS_RATE);
    sheet_column(sheet, "Hours for non-clinical moves", SHEET_INTERVAL, WORDS_COUNT);
    sheet_column(sheet, "Hours in all, at least", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "at most", SHEET_NUMBER, WORDS_COUNT);
}

static void hours_line(Sheet *sheet, const CoverUnit *u) {
    sheet_number(sheet, (double)u->transfers);
    sheet_interval(sheet, of_whole(u, u->all.per_week.estimate), u->all.per_week.lower,
                   u->all.per_week.upper);
    interval(sheet, &u->all.per_transfer);
    sheet_number(sheet, of_whole(u, u->people_whole_time));
    sheet_interval(sheet, of_whole(u, u->non_clinical.hours.estimate), u->non_clinical.hours.lower,
                   u->non_clinical.hours.upper);
    sheet_number(sheet, u->hours_at_least);
    sheet_number(sheet, u->hours_at_most);
}

static const char *upper_basis(const Cover *cover) {
    return g_str_equal(cover->upper_basis, "cap")
               ? "at most with the network's cap on absences each"
           : g_str_equal(cover->upper_basis, "longest")
               ? "at most with the longest known absence each"
               : NULL;
}

static char *hours_note(const Cover *cover, const CoverUnit *u) {
    const char *basis = upper_basis(cover);
    char *hours = words_figure(WORDS_HOURS, cover->weekly_hours, 0),
         *part = words_figure(WORDS_COUNT, (double)u->incomplete, 0),
         *maybe = words_figure(WORDS_COUNT, (double)u->maybe, 0),
         *alike = words_figure(WORDS_HOURS, u->hours_if_alike, 0);
    const bool is_known = isfinite(u->hours_if_alike);
    char *text = g_strdup_printf(
        "An absence lasts from the sending unit's own team being ready until it is back. Hours are "
        "those of a team; whole-time people, at %s a week, count the second attendant too. Hours a "
        "week and for each transfer rest on absences with a known start and end. Those whose start "
        "or end is not known (%s) and records that may be an absence (%s) stand in the "
        "bounds, %s. %s%s%sWhat dedicated teams would have taken over of this, "
        "the command crossward replay tells from the same logs.",
        hours, part, maybe, basis ? basis : "without an upper one, as the logs show none",
        is_known ? "If those without start or end lasted as long as the rest, it was " : "",
        is_known ? alike : "", is_known ? " in all. " : "");
    g_free(hours);
    g_free(part);
    g_free(maybe);
    g_free(alike);
    return text;
}

Exhibit *exhibit_cover_hours(const Source *s, const ExhibitKind *kind) {
    Sheet *sheet =
        by_unit(s, "Hours that the sending units' own people were away", hours_head, hours_line);
    if (!sheet)
        return NULL;
    Exhibit *x = exhibit_new(kind, NULL, sheet);
    x->note = hours_note(s->counts->cover, unit_of(s, s->focus));
    return x;
}

// ---- what was left ----

static void left_head(Sheet *sheet) {
    sheet_column(sheet, "Left out of hours", SHEET_INTERVAL, WORDS_PERCENT);
    sheet_column(sheet, "Hours away that were out of hours", SHEET_INTERVAL, WORDS_PERCENT);
    sheet_column(sheet, "Cover maintained", SHEET_INTERVAL, WORDS_PERCENT);
    sheet_column(sheet, "Reduced", SHEET_INTERVAL, WORDS_PERCENT);
    sheet_column(sheet, "Uncovered", SHEET_INTERVAL, WORDS_PERCENT);
    sheet_column(sheet, "Cover not known", SHEET_NUMBER, WORDS_COUNT);
}

static void left_line(Sheet *sheet, const CoverUnit *u) {
    interval(sheet, &u->out_of_hours.share);
    interval(sheet, &u->hours_out_of_hours);
    for (int c = 1; c <= 3; c++)
        interval(sheet, &u->cover[c].share);
    sheet_number(sheet, (double)u->cover[0].unknown);
}

Exhibit *exhibit_cover_left(const Source *s, const ExhibitKind *kind) {
    Sheet *sheet = by_unit(s, "Absences: when, and what staffing they left", left_head, left_line);
    if (!sheet)
        return NULL;
    Exhibit *x = exhibit_new(kind, NULL, sheet);
    x->note = g_strdup("Cover: how the sending unit was staffed meanwhile, among absences for "
                       "which that was written down. Limits of the three are simultaneous.");
    return x;
}

// ---- at once ----

static void at_once_head(Sheet *sheet) {
    sheet_column(sheet, "Hours with a team away", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "with two or more", SHEET_NUMBER, WORDS_RATE);
    sheet_column(sheet, "with three or more", SHEET_NUMBER, WORDS_RATE);
    sheet_column(sheet, "Two or more, of the time with one", SHEET_INTERVAL, WORDS_PERCENT);
    sheet_column(sheet, "Most at once", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "Longest stretch, hours", SHEET_NUMBER, WORDS_RATE);
    sheet_column(sheet, "of two or more", SHEET_NUMBER, WORDS_RATE);
}

static void at_once_line(Sheet *sheet, const CoverUnit *u) {
    for (int k = 0; k < 3; k++)
        sheet_number(sheet, of_whole(u, u->at_least[k]));
    interval(sheet, &u->overlapping[1]);
    sheet_number(sheet, of_whole(u, u->most_at_once));
    sheet_number(sheet, of_whole(u, u->longest_stretch));
    sheet_number(sheet, of_whole(u, u->longest_stretch_of_two));
}

Exhibit *exhibit_cover_at_once(const Source *s, const ExhibitKind *kind) {
    const CoverUnit *u = unit_of(s, s->focus);
    if (!u || u->all.absences == 0)
        return NULL;
    Sheet *sheet =
        by_unit(s, "How many teams of a unit were away at once", at_once_head, at_once_line);
    if (!sheet)
        return NULL;
    Exhibit *x = exhibit_new(kind, NULL, sheet);
    x->note = g_strconcat(
        "Longest stretch: the longest time that a unit had a team away without a break.",
        words_single(s->e) ? NULL
                           : " The network's hours are the sum over its units; teams of different "
                             "units never count as away at once.",
        NULL);
    return x;
}

// ---- by grade ----

Exhibit *exhibit_cover_grades(const Source *s, const ExhibitKind *kind) {
    const CoverUnit *u = unit_of(s, s->focus);
    if (!u || u->all.absences == 0)
        return NULL;
    Sheet *sheet = sheet_new("Hours away by grade of the most senior escort");
    sheet_column(sheet, "Grade", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Absences of known length", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "Hours a week", SHEET_INTERVAL, WORDS_RATE);
    sheet_column(sheet, "Hours for each transfer", SHEET_INTERVAL, WORDS_RATE);
    sheet_column(sheet, "Whole-time people", SHEET_NUMBER, WORDS_RATE);
    for (unsigned k = 1; k <= CODE_escort_grade_END; k++) { // unknown last
        const unsigned grade = k % CODE_escort_grade_END;
        const CoverHours *h = &u->by_grade[grade];
        if (h->absences == 0)
            continue;
        char *name = grade
                         ? words_code(field_code_text(field_table[FIELD_escort_grade].codes, grade))
                         : g_strdup("not known");
        sheet_text(sheet, name);
        g_free(name);
        sheet_number(sheet, (double)h->absences);
        interval(sheet, &h->per_week);
        interval(sheet, &h->per_transfer);
        sheet_number(sheet, h->whole_time);
    }
    return exhibit_new(kind, NULL, sheet);
}
