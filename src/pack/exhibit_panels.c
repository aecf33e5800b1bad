// SPDX-License-Identifier: GPL-3.0-or-later
// Small multiples.
#include "pack/exhibit_panels.h"

#include <math.h>

enum { ACROSS = 4, PANEL = 86, MOST_PANELS = 40, LEFT = 46, BOTTOM = 22 }; // panels, px

typedef struct {
    const Source *s;
    const Indicator *indicator;
    GArray *quarters; // guint
    const Estimate *network;
    guint panels;
} Panels;

static const Estimate *at(const Panels *p, guint panel, guint quarter) {
    LookupKey key = lookup_key(p->indicator->name);
    key.unit = g_array_index(p->s->e->units, uint16_t, panel + 1);
    key.period = (uint16_t)g_array_index(p->quarters, guint, quarter);
    return lookup_row(p->s->lookup, &key);
}

static const char *unit_name(const Panels *p, guint panel) {
    return words_unit_name(p->s->e, p->s->network,
                           g_array_index(p->s->e->units, uint16_t, panel + 1));
}

static const char *quarter_name(const Panels *p, guint q) {
    return g_array_index(p->s->e->periods, Period, g_array_index(p->quarters, guint, q)).name;
}

static bool leaves(const Panels *p, const Estimate *r) {
    return r->lower > p->network->estimate || r->upper < p->network->estimate;
}

static bool whole(const Panels *p, guint panel, guint q) {
    return !p->s->signals ||
           signal_whole(p->s->signals, panel + 1, g_array_index(p->quarters, guint, q));
}

// Names of a unit's quarters that the logs do not cover whole; free it.
static char *lacking(const Panels *p, guint panel) {
    GString *text = g_string_new(NULL);
    for (guint q = 0; q < p->quarters->len; q++)
        if (!whole(p, panel, q))
            g_string_append_printf(text, "%s%s", text->len > 0 ? ", " : "", quarter_name(p, q));
    return g_string_free(text, FALSE);
}

static Sheet *table(const Panels *p) {
    char *caption = g_strdup_printf("%s by unit and quarter", p->indicator->title);
    Sheet *s = sheet_new(caption);
    g_free(caption);
    sheet_column(s, "Sending unit", SHEET_TEXT, WORDS_COUNT);
    for (guint q = 0; q < p->quarters->len; q++)
        sheet_column(s, quarter_name(p, q), SHEET_INTERVAL, words_unit(p->indicator));
    sheet_column(s, "Logs not whole", SHEET_TEXT, WORDS_COUNT);
    for (guint k = 0; k < p->panels; k++) {
        sheet_text(s, unit_name(p, k));
        for (guint q = 0; q < p->quarters->len; q++) {
            const Estimate *r = at(p, k, q);
            sheet_interval(s, r->estimate, r->lower, r->upper);
        }
        char *names = lacking(p, k);
        sheet_text(s, names);
        g_free(names);
    }
    return s;
}

// Writes the blocks of data; returns the number of quarters whose interval leaves the network's.
static guint add_blocks(Chart *c, const Panels *p) {
    guint marked = 0;
    for (guint k = 0; k < p->panels; k++) {
        if (k > 0) {
            chart_row(c, 0, NULL);
            chart_row(c, 0, NULL);
        }
        for (guint q = 0; q < p->quarters->len; q++) {
            const Estimate *r = at(p, k, q);
            const bool mark = whole(p, k, q) && leaves(p, r);
            const double row[] = {q,
                                  r->estimate,
                                  r->lower,
                                  r->upper,
                                  chart_where(whole(p, k, q) && !mark, r->estimate),
                                  chart_where(!whole(p, k, q), r->estimate),
                                  chart_where(mark, r->estimate)};
            chart_row(c, G_N_ELEMENTS(row), row);
            marked += mark;
        }
        char *name = g_strdup_printf("name_%u", k + 1), *cut = chart_fit(unit_name(p, k), 12, 120);
        chart_set_text(c, name, cut);
        g_free(name);
        g_free(cut);
    }
    return marked;
}

static void edges(Chart *c, const Panels *p, guint rows) {
    chart_set(c, "panels", p->panels);
    chart_set(c, "columns", ACROSS);
    chart_set(c, "rows", rows);
    chart_set(c, "left_edge", (double)LEFT / c->width);
    chart_set(c, "right_edge", 1);
    chart_set(c, "top_edge", 1 - (double)c->top / c->height);
    chart_set(c, "low_edge", (double)BOTTOM / c->height);
    chart_set(c, "level", p->network->estimate);
    chart_set_text(c, "first_name", quarter_name(p, 0));
    chart_set_text(c, "last_name", quarter_name(p, p->quarters->len - 1));
}

static bool any_lacking(const Panels *p) {
    bool found = false;
    for (guint k = 0; k < p->panels; k++)
        for (guint q = 0; q < p->quarters->len; q++)
            found = found || !whole(p, k, q);
    return found;
}

// The unit that is away from the network's value in the most quarters.
static char *title_of(const Panels *p, const char *level) {
    guint most = 0, furthest = 0;
    for (guint k = 0; k < p->panels; k++) {
        guint n = 0;
        for (guint q = 0; q < p->quarters->len; q++)
            n += whole(p, k, q) && leaves(p, at(p, k, q));
        if (n > most) {
            most = n;
            furthest = k;
        }
    }
    if (most == 0)
        return g_strdup_printf("%s by quarter: no unit's interval leaves the network's %s",
                               p->indicator->title, level);
    return g_strdup_printf("%s: away from the network's %s most often at %s, in %u of %u quarters",
                           p->indicator->title, level, unit_name(p, furthest), most,
                           p->quarters->len);
}

static Chart *draw(const Panels *p) {
    const guint rows = (p->panels + ACROSS - 1) / ACROSS;
    const ChartFrame frame = {CHART_WIDTH, LEFT, 0, 10, BOTTOM, (int)rows * PANEL};
    char *level = words_value(p->indicator, p->network->estimate), *title = title_of(p, level);
    char *chance = words_by_chance(p->s->e);
    char *how = g_strdup_printf("Band: interval of each quarter. Dashed: the network over all, %s. "
                                "Diamond: the interval does not reach it, %s.%s",
                                level, chance,
                                any_lacking(p) ? " Ring: the unit's log does not cover the "
                                                 "quarter whole."
                                               : "");
    Chart *c = chart_new("panels.gp", title, how, &frame);
    const bool percent = words_unit(p->indicator) == WORDS_PERCENT;
    chart_steps(c, 'y', 1, 2, percent ? 100 : 1, percent ? " %" : "");
    chart_range(c, 'y', 0, 1);
    chart_range(c, 'x', -0.4, p->quarters->len - 0.6);
    g_free(chance);
    edges(c, p, rows);
    const guint marked = add_blocks(c, p);
    c->told = true; // summary.csv
    c->finding = g_strdup_printf("Small multiples. %s; in %u unit-quarters the interval does not "
                                 "reach the network's value.",
                                 title, marked);
    g_free(how);
    g_free(title);
    g_free(level);
    return c;
}

Exhibit *exhibit_panels_units(const Source *s, const ExhibitKind *kind) {
    LookupKey key = lookup_key(kind->indicator);
    Panels p = {s, lookup_indicator(s->lookup, kind->indicator),
                lookup_periods(s->lookup, PERIOD_QUARTER), lookup_row(s->lookup, &key),
                s->e->units->len > 1 ? s->e->units->len - 1 : 0};
    Exhibit *x = NULL;
    if (p.indicator && p.network && isfinite(p.network->estimate) && p.panels > 1 &&
        p.quarters->len > 1 && words_unit(p.indicator) == WORDS_PERCENT && !s->focus)
        x = exhibit_new(kind, s->charts && p.panels <= MOST_PANELS ? draw(&p) : NULL, table(&p));
    g_array_unref(p.quarters);
    return x;
}
