// SPDX-License-Identifier: GPL-3.0-or-later
// What was sent in, and who was away.
#include "pack/exhibit_grid.h"

#include "pack/heat.h"

#include <math.h>

// ---- records by unit and month ----

typedef struct {
    const Source *s;
    const Crosstab *n;
    GArray *units; // uint16_t
} Months;

static char *month_name(const Months *m, guint k) {
    const int month = m->s->counts->first_month + (int)k;
    return g_strdup_printf("%d-%02d", month / 12, month % 12 + 1);
}

static const char *unit_name(const Months *m, guint u) {
    return words_unit_name(m->s->e, m->s->network, g_array_index(m->units, uint16_t, u));
}

static double count_at(const Months *m, guint u, guint k) {
    return (double)crosstab_at(m->n, g_array_index(m->units, uint16_t, u), k);
}

static Sheet *months_sheet(const Months *m) {
    Sheet *sheet = sheet_new("Requests recorded, by month");
    sheet_column(sheet, "Month", SHEET_TEXT, WORDS_COUNT);
    for (guint u = 0; u < m->units->len; u++)
        sheet_column(sheet, words_unit_code(m->s->e, g_array_index(m->units, uint16_t, u)),
                     SHEET_NUMBER, WORDS_COUNT);
    for (guint k = 0; k < m->n->columns; k++) {
        char *name = month_name(m, k);
        sheet_text(sheet, name);
        g_free(name);
        for (guint u = 0; u < m->units->len; u++)
            sheet_number(sheet, count_at(m, u, k));
    }
    return sheet;
}

// Fills the table; returns the number of cells that hold nothing.
static guint fill_months(Heat *h, const Months *m) {
    guint empty = 0;
    double most = 1;
    for (guint u = 0; u < h->rows; u++)
        for (guint k = 0; k < h->columns; k++)
            most = fmax(most, count_at(m, u, k));
    const guint step = h->columns > 12 ? (h->columns + 7) / 8 : 1; // wide enough for a name
    for (guint k = 0; k < h->columns; k++)
        h->column_names[k] = k % step ? g_strdup("") : month_name(m, k);
    for (guint u = 0; u < h->rows; u++) {
        h->row_names[u] = g_strdup(unit_name(m, u));
        for (guint k = 0; k < h->columns; k++) {
            const double n = count_at(m, u, k);
            empty += n == 0;
            heat_set(h, u, k, n == 0 ? NAN : sqrt(n / most), words_figure(WORDS_COUNT, n, 0));
        }
    }
    return empty;
}

static Chart *months_chart(const Months *m) {
    Heat *h = heat_new(m->units->len, m->n->columns);
    h->text_size = 12;
    const guint empty = fill_months(h, m);
    char *title = empty == 0 ? g_strdup("Every unit sent in records for every month")
                             : g_strdup_printf("%u month%s without any record from a unit", empty,
                                               empty == 1 ? "" : "s");
    Chart *c = heat_chart(h, title,
                          "Requests recorded by each sending unit in each month. A cell without "
                          "colour: none, or no log.");
    c->finding = g_strdup_printf("Table of records by unit and month. %s.", title);
    g_free(title);
    heat_free(h);
    return c;
}

Exhibit *exhibit_grid_months(const Source *s, const ExhibitKind *kind) {
    Months m = {s, s->counts->months, g_array_new(FALSE, FALSE, sizeof(uint16_t))};
    for (guint u = 1; u < s->e->units->len; u++) {
        const uint16_t unit = g_array_index(s->e->units, uint16_t, u);
        if (!s->focus || unit == s->focus)
            g_array_append_val(m.units, unit);
    }
    Exhibit *x = NULL;
    if (m.units->len > 0 && m.n->columns > 0)
        x = exhibit_new(kind, s->charts ? months_chart(&m) : NULL, months_sheet(&m));
    g_array_unref(m.units);
    return x;
}

// ---- hours of the week ----

static const char *const days[] = {"Monday", "Tuesday",  "Wednesday", "Thursday",
                                   "Friday", "Saturday", "Sunday"};

// Hours by local hour of the week, 0 = Monday 00:00.
typedef struct {
    const double *hours; // COVER_WEEK_HOURS of them
    const char *caption, *what, *finding, *how;
    double weeks;
    bool narrow; // rows for a unit's page
} Week;

static Sheet *week_sheet(const Week *w) {
    Sheet *sheet = sheet_new(w->caption);
    sheet_column(sheet, "Hour", SHEET_TEXT, WORDS_COUNT);
    for (int d = 0; d < 7; d++)
        sheet_column(sheet, days[d], SHEET_NUMBER, WORDS_RATE);
    for (int h = 0; h < 24; h++) {
        char *hour = g_strdup_printf("%02d:00", h);
        sheet_text(sheet, hour);
        g_free(hour);
        for (int d = 0; d < 7; d++)
            sheet_number(sheet, w->hours[d * 24 + h]);
    }
    return sheet;
}

// How people write a cell: whole hours; tenths where all are few.
static char *cell_text(double hours, double most) {
    return hours <= 0   ? NULL
           : most < 9.5 ? g_strdup_printf("%.1f", hours)
                        : words_figure(WORDS_COUNT, hours, 0);
}

static Chart *week_chart(const Week *w) {
    Heat *h = heat_new(7, 24);
    int at = 0;
    for (int k = 0; k < COVER_WEEK_HOURS; k++)
        at = w->hours[k] > w->hours[at] ? k : at;
    const double most = w->hours[at];
    h->row_height = w->narrow ? 15 : 18;
    h->text_size = 12;
    for (unsigned k = 0; k < 24; k++)
        h->column_names[k] = g_strdup_printf("%02u", k);
    for (unsigned d = 0; d < 7; d++) {
        h->row_names[d] = g_strdup(days[d]);
        for (unsigned k = 0; k < 24; k++)
            heat_set(h, d, k, most > 0 ? w->hours[d * 24 + k] / most : 0,
                     cell_text(w->hours[d * 24 + k], most));
    }
    char *title = g_strdup_printf("%s on %ss from %02d:00 to %02d:00", w->finding, days[at / 24],
                                  at % 24, (at % 24 + 1) % 24),
         *weeks = words_figure(WORDS_COUNT, w->weeks, 0),
         *how = g_strdup_printf("%s, added up over %s weeks, by weekday and local hour; the darker "
                                "the cell, the more.",
                                w->how, weeks);
    Chart *c = heat_chart(h, title, how);
    c->finding = g_strdup_printf("Table of %s by hour of the week. %s.", w->what, title);
    g_free(title);
    g_free(weeks);
    g_free(how);
    heat_free(h);
    return c;
}

static const CoverUnit *unit_shown(const Source *s) {
    for (guint i = 0; i < s->counts->cover->units->len; i++) {
        const CoverUnit *unit = s->counts->cover->units->pdata[i];
        if (unit->unit == s->focus && unit->all.absences > 0)
            return unit;
    }
    return NULL;
}

Exhibit *exhibit_grid_away(const Source *s, const ExhibitKind *kind) {
    const CoverUnit *unit = unit_shown(s);
    if (!unit)
        return NULL;
    const Week w = {unit->by_hour,
                    "Team hours away by hour of the week",
                    "team hours away",
                    "Most team hours away",
                    s->focus ? "Hours that this unit's teams were away"
                             : "Hours that the sending units' teams were away",
                    unit->weeks,
                    s->focus != 0};
    return exhibit_new(kind, s->charts ? week_chart(&w) : NULL, week_sheet(&w));
}

Exhibit *exhibit_grid_two(const Source *s, const ExhibitKind *kind) {
    const CoverUnit *unit = unit_shown(s);
    if (!unit || !(unit->at_least[1] > 0))
        return NULL;
    const Week w = {unit->two_by_hour,
                    "Hours with two or more of a unit's teams away at once, by hour of the week",
                    "hours with two or more teams away",
                    "Two or more teams of a unit were away at once most",
                    s->focus ? "Hours with two or more of this unit's teams away at once"
                             : "Hours with two or more of a unit's own teams away at once",
                    unit->weeks,
                    s->focus != 0};
    Exhibit *x = exhibit_new(kind, s->charts ? week_chart(&w) : NULL, week_sheet(&w));
    x->note = g_strconcat("Known absences only.",
                          words_single(s->e)
                              ? NULL
                              : " In the network's figure each unit is counted by itself; teams of "
                                "different units never overlap here.",
                          NULL);
    return x;
}
