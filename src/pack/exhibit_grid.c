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
        sheet_column(sheet, m->s->e->t->units->pdata[g_array_index(m->units, uint16_t, u)],
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
    const guint step = h->columns > 12 ? (h->columns + 11) / 12 : 1;
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
    h->text_size = 11;
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

// ---- teams away ----

static const char *const days[] = {"Monday", "Tuesday",  "Wednesday", "Thursday",
                                   "Friday", "Saturday", "Sunday"};

static Sheet *away_sheet(const double *mean) {
    Sheet *sheet = sheet_new("Mean number of teams away by hour of the week");
    sheet_column(sheet, "Hour", SHEET_TEXT, WORDS_COUNT);
    for (int d = 0; d < 7; d++)
        sheet_column(sheet, days[d], SHEET_NUMBER, WORDS_RATE);
    for (int h = 0; h < 24; h++) {
        char *hour = g_strdup_printf("%02d:00", h);
        sheet_text(sheet, hour);
        g_free(hour);
        for (int d = 0; d < 7; d++)
            sheet_number(sheet, mean[d * 24 + h]);
    }
    return sheet;
}

static Chart *away_chart(const Source *s, const double *mean) {
    Heat *h = heat_new(7, 24);
    int at = 0;
    for (int k = 0; k < COVER_WEEK_HOURS; k++)
        at = mean[k] > mean[at] ? k : at;
    h->left = 100;
    h->row_height = 28;
    h->text_size = 11;
    for (unsigned k = 0; k < 24; k++)
        h->column_names[k] = g_strdup_printf("%02u", k);
    for (unsigned d = 0; d < 7; d++) {
        h->row_names[d] = g_strdup(days[d]);
        for (unsigned k = 0; k < 24; k++)
            heat_set(h, d, k, mean[at] > 0 ? mean[d * 24 + k] / mean[at] : 0,
                     words_figure(WORDS_RATE, mean[d * 24 + k], mean[at] < 0.95 ? 2 : 1));
    }
    char *title = g_strdup_printf("Most teams are away on %ss from %02d:00 to %02d:00",
                                  days[at / 24], at % 24, (at % 24 + 1) % 24);
    Chart *c =
        heat_chart(h, title,
                   s->focus ? "Mean number of this unit's teams away, by local hour; the "
                              "darker the cell, the more."
                            : "Mean number of sending units' teams away, all units together, "
                              "by local hour; the darker the cell, the more.");
    c->finding = g_strdup_printf("Table of teams away by hour of the week. %s.", title);
    g_free(title);
    heat_free(h);
    return c;
}

Exhibit *exhibit_grid_away(const Source *s, const ExhibitKind *kind) {
    const Cover *cover = s->counts->cover;
    for (guint i = 0; i < cover->units->len; i++) {
        const CoverUnit *unit = cover->units->pdata[i];
        if (unit->unit == s->focus && unit->all.absences > 0)
            return exhibit_new(kind, s->charts ? away_chart(s, unit->mean_away) : NULL,
                               away_sheet(unit->mean_away));
    }
    return NULL;
}
