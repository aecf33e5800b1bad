// SPDX-License-Identifier: GPL-3.0-or-later
// A row for each unit or group.
#include "pack/exhibit_rows.h"

#include <math.h>
#include <string.h>

enum { RIGHT = 108, NUMBER = 54 };  // px from the right edge to the plot, to the estimates
enum { ROW = 18, ROW_UNNAMED = 9 }; // px; on a unit's page most rows have no texts
enum { MOST_UNNAMED = 30, UNNAMED_TALL = 130 }; // rows there, and px that all have

typedef struct {
    const Source *s;
    const Indicator *indicator;
    WordsUnit unit;
    const Estimate *network; // or the whole that the groups are of
    GPtrArray *rows;         // const Estimate *, top row first
    FieldId by;              // FIELD_COUNT: rows are units
    guint of;                // units that the rows are some of, 0 if all are shown
} Rows;

static int compare_estimates(gconstpointer a, gconstpointer b) {
    const Estimate *x = *(const Estimate *const *)a, *y = *(const Estimate *const *)b;
    const double u = isfinite(x->estimate) ? x->estimate : -1,
                 v = isfinite(y->estimate) ? y->estimate : -1;
    return u > v ? -1 : u < v ? 1 : (int)x->unit - (int)y->unit;
}

// Whether the network's value is the sum of the units', so that none can be held against it.
static bool adds_up(const Rows *w) {
    const Indicator *i = w->indicator;
    return w->by == FIELD_COUNT && (i->measure == MEASURE_COUNT || i->measure == MEASURE_HOURS ||
                                    (i->measure == MEASURE_RATE && i->exposure == EXPOSURE_WEEKS));
}

static bool leaves(const Rows *w, const Estimate *r) {
    return !adds_up(w) && (r->lower > w->network->estimate || r->upper < w->network->estimate);
}

// Whether it is of a unit that this page does not name.
static bool is_nameless(const Rows *w, const Estimate *r) {
    return w->by == FIELD_COUNT && w->s->focus && r->unit != w->s->focus;
}

// Whether each row has figures, in columns with heads.
static bool has_heads(const Rows *w) {
    return !w->s->focus || w->by < FIELD_COUNT;
}

static char *row_name(const Rows *w, const Estimate *r) {
    if (w->by < FIELD_COUNT)
        return words_group(w->s->e, w->s->network, w->by, r->group);
    return g_strdup(words_unit_name(w->s->e, w->s->network, r->unit));
}

static bool is_marked(const Rows *w, const Estimate *r) {
    return w->s->focus ? w->by == FIELD_COUNT && r->unit == w->s->focus
                       : w->by == FIELD_COUNT && leaves(w, r);
}

// What an estimate's total counts, NULL where it has none.
static const char *total_name(const Indicator *i) {
    static const char *const exposures[] = {[EXPOSURE_TRANSFERS] = "Transfers",
                                            [EXPOSURE_HOURS] = "Hours",
                                            [EXPOSURE_KM] = "km",
                                            [EXPOSURE_WEEKS] = "Weeks"};
    return i->measure == MEASURE_SHARE  ? "Of"
           : i->measure == MEASURE_RATE ? exposures[i->exposure]
                                        : NULL;
}

static Sheet *table(const Rows *w) {
    char *field = w->by == FIELD_COUNT ? g_strdup("unit") : words_field(w->by);
    char *caption = g_strdup_printf("%s by %s", w->indicator->title, field);
    g_free(field);
    Sheet *s = sheet_new(caption);
    const char *const total = total_name(w->indicator);
    sheet_column(s, w->by == FIELD_COUNT ? "Sending unit" : "Group", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, w->indicator->title, SHEET_INTERVAL, w->unit);
    sheet_column(s, w->indicator->measure == MEASURE_HOURS ? "Absences" : "Events", SHEET_NUMBER,
                 WORDS_COUNT);
    if (total)
        sheet_column(s, total, SHEET_NUMBER, WORDS_COUNT);
    sheet_column(s, "Unknown", SHEET_NUMBER, WORDS_COUNT);
    for (guint k = 0; k <= w->rows->len; k++) {
        const Estimate *r = k < w->rows->len ? w->rows->pdata[k] : w->network;
        if (w->s->focus && w->by == FIELD_COUNT && r != w->network && r->unit != w->s->focus)
            continue;
        char *name = k < w->rows->len ? row_name(w, r)
                                      : g_strdup(w->by == FIELD_COUNT ? "The network" : "All");
        sheet_text(s, name);
        sheet_interval(s, r->estimate, r->lower, r->upper);
        sheet_number(s, r->events);
        if (total)
            sheet_number(s, r->total);
        sheet_number(s, (double)r->unknown);
        g_free(name);
    }
    g_free(caption);
    return s;
}

// Decimals that suit all rows.
static int decimals_of(const Rows *w) {
    double most = 0, least = NAN;
    for (guint k = 0; k < w->rows->len; k++) {
        const double value = ((const Estimate *)w->rows->pdata[k])->estimate;
        most = fmax(most, value);
        least = value > 0 ? fmin(least, value) : least;
    }
    return words_decimals_between(w->unit, least, most);
}

static char *groups_title(const Rows *w) {
    GString *text = g_string_new(w->indicator->title);
    guint said = 0;
    const int decimals = decimals_of(w);
    for (guint k = 0; k < w->rows->len && said < 3; k++) {
        const Estimate *r = w->rows->pdata[k];
        if (r->group == 0 || !isfinite(r->estimate))
            continue;
        char *name = row_name(w, r), *value = words_figure(w->unit, r->estimate, decimals);
        g_string_append_printf(text, "%s %s %s", said++ ? "," : ":", name, value);
        g_free(name);
        g_free(value);
    }
    return g_string_free(text, FALSE);
}

static char *own_title(const Rows *w, const char *network) {
    for (guint k = 0; k < w->rows->len; k++) {
        const Estimate *r = w->rows->pdata[k];
        if (r->unit != w->s->focus)
            continue;
        char *own = words_value(w->indicator, r->estimate),
             *text = g_strdup_printf("%s: %s here, %s in the network", w->indicator->title, own,
                                     network);
        g_free(own);
        return text;
    }
    return g_strdup_printf("%s: not known here, %s in the network", w->indicator->title, network);
}

// The finding: who leaves the network's value.
static char *title(const Rows *w) {
    char *figure = words_value(w->indicator, w->network->estimate), *text;
    const Estimate *only = NULL;
    guint marked = 0;
    for (guint k = 0; k < w->rows->len; k++)
        if (leaves(w, w->rows->pdata[k])) {
            only = w->rows->pdata[k];
            marked++;
        }
    if (w->by < FIELD_COUNT)
        text = groups_title(w);
    else if (w->s->focus)
        text = own_title(w, figure);
    else if (adds_up(w)) {
        char *name = row_name(w, w->rows->pdata[0]);
        text = g_strdup_printf("%s: most at %s, of %s in all", w->indicator->title, name, figure);
        g_free(name);
    } else if (marked == 0)
        text = g_strdup_printf("%s: no unit's interval leaves the network's %s",
                               w->indicator->title, figure);
    else if (marked == 1) {
        char *name = row_name(w, only),
             *own = words_figure(w->unit, only->estimate,
                                 words_decimals(w->unit, w->network->estimate));
        text = g_strdup_printf("%s: %s at %s, the network at %s", w->indicator->title, name, own,
                               figure);
        g_free(name);
        g_free(own);
    } else
        text = g_strdup_printf("%s: %u of %u units' intervals do not reach the network's %s",
                               w->indicator->title, marked, w->rows->len, figure);
    g_free(figure);
    return text;
}

// The estimate and what it is of: in two columns; of the only row that has texts, in one.
static void figures(Chart *c, const Rows *w, const Estimate *r, ChartPlace place, int decimals) {
    char *value = words_figure(w->unit, r->estimate, decimals),
         *n = isfinite(r->total) ? words_figure(WORDS_COUNT, r->total, 0) : g_strdup("");
    place.x = c->width - (has_heads(w) ? NUMBER : CHART_EDGE);
    if (has_heads(w)) {
        chart_label(c, &place, value);
        place.x = c->width - CHART_EDGE;
        place.colour = "grey";
        place.bold = false;
        chart_label(c, &place, n);
    } else {
        const bool share = w->indicator->measure == MEASURE_SHARE;
        char *both = g_strjoin(" ", value,
                               share                   ? "of"
                               : w->unit == WORDS_RATE ? w->indicator->scale
                                                       : NULL,
                               share ? n : NULL, NULL);
        chart_label(c, &place, both);
        g_free(both);
    }
    g_free(value);
    g_free(n);
}

static void row_texts(Chart *c, const Rows *w, const Estimate *r, double y, int decimals,
                      int name_right) {
    const bool marked = is_marked(w, r);
    if (is_nameless(w, r))
        return;
    char *name = row_name(w, r), *cut = chart_fit(name, 13, name_right - 2);
    ChartPlace place = {
        .x = name_right, .x_px = true, .y = y, .align = "right", .bold = marked, .colour = "ink"};
    chart_label(c, &place, cut);
    figures(c, w, r, place, decimals);
    g_free(name);
    g_free(cut);
}

static double widest_name(const Rows *w) {
    double widest = 60;
    for (guint k = 0; k < w->rows->len; k++) {
        if (is_nameless(w, w->rows->pdata[k]))
            continue;
        char *name = row_name(w, w->rows->pdata[k]);
        widest = fmax(widest, chart_text_width(name, 13));
        g_free(name);
    }
    return fmin(widest, w->s->focus ? 130 : 170);
}

static void column_head(Chart *c, double x, const char *text) {
    const ChartPlace place = {.x = x,
                              .y = c->top - 12,
                              .x_px = true,
                              .y_px = true,
                              .align = "right",
                              .colour = "grey",
                              .size = 12};
    chart_label(c, &place, text);
}

static void column_heads(Chart *c, const Rows *w) {
    column_head(c, c->width - NUMBER, w->unit == WORDS_RATE ? w->indicator->scale : "estimate");
    column_head(c, c->width - CHART_EDGE,
                !isfinite(w->network->total)                          ? ""
                : w->indicator->measure == MEASURE_SHARE              ? "of"
                : w->indicator->measure == MEASURE_RATE && adds_up(w) ? "weeks"
                                                                      : "n");
}

static char *how_to_read(const Rows *w) {
    if (w->of > 0)
        return g_strdup_printf("Diamond: this unit.%s Others: an even selection by rank, from the "
                               "first to the last. Lines: intervals.",
                               adds_up(w) ? "" : " Dashed: the network.");
    if (adds_up(w))
        return g_strdup(w->s->focus ? "Diamond: this unit. Lines: intervals." : "Line: interval.");
    if (w->by < FIELD_COUNT)
        return g_strdup("Line: interval. Dashed: all groups together.");
    if (w->s->focus)
        return g_strdup("Diamond: this unit. Dashed: the network. Lines: intervals.");
    char *chance = words_by_chance(w->s->e),
         *text = g_strdup_printf("Line: interval. Diamond: an interval that does not reach the "
                                 "network's value (dashed), %s.",
                                 chance);
    g_free(chance);
    return text;
}

static Chart *draw(const Rows *w) {
    char *head = title(w), *how = how_to_read(w);
    const guint n = w->rows->len;
    const int left = 18 + (int)widest_name(w);
    const ChartFrame frame = {exhibit_width(w->s),
                              left,
                              RIGHT,
                              24,
                              30,
                              w->s->focus && w->by == FIELD_COUNT
                                  ? MIN(ROW_UNNAMED * (int)n, UNNAMED_TALL)
                                  : ROW * (int)n};
    Chart *c = chart_new("rows.gp", head, how, &frame);
    g_free(how);
    double highest = adds_up(w) ? 0 : w->network->estimate;
    const int decimals = decimals_of(w);
    for (guint k = 0; k < n; k++) {
        const Estimate *r = w->rows->pdata[k];
        const bool marked = is_marked(w, r);
        const double y = (double)(n - k),
                     row[] = {r->estimate,           r->lower, r->upper, y, chart_where(!marked, y),
                              chart_where(marked, y)};
        chart_row(c, G_N_ELEMENTS(row), row);
        row_texts(c, w, r, y, decimals, left - 12);
        highest = fmax(highest, isfinite(r->upper) ? r->upper : r->estimate);
    }
    const bool percent = w->unit == WORDS_PERCENT;
    chart_range(c, 'x', 0,
                chart_steps(c, 'x', percent ? fmin(highest, 1) : highest, chart_room(c),
                            percent ? 100 : 1,
                            percent                  ? " %"
                            : w->unit == WORDS_HOURS ? " h"
                                                     : ""));
    chart_range(c, 'y', 0.4, n + 0.6);
    chart_tics(c, 'y', 0, NULL, NULL);
    if (has_heads(w))
        column_heads(c, w);
    if (!adds_up(w))
        chart_reference(c, 'x', w->network->estimate);
    c->told = true; // summary.csv
    c->finding = g_strdup_printf("Dot-and-interval chart. %s.", head);
    g_free(head);
    return c;
}

static Exhibit *finish(Rows *w, const ExhibitKind *kind) {
    Exhibit *x = NULL;
    if (w->network && w->rows->len > 0) {
        w->unit = words_unit(w->indicator);
        const bool chart = w->s->charts && isfinite(w->network->estimate);
        x = exhibit_new(kind, chart ? draw(w) : NULL, table(w));
    }
    g_ptr_array_unref(w->rows);
    return x;
}

// In a large network a unit's page shows the unit and others evenly out of the order of all.
static void thin(Rows *w) {
    const guint n = w->rows->len;
    if (!w->s->focus || n <= MOST_UNNAMED)
        return;
    GPtrArray *some = g_ptr_array_new();
    guint k = 0; // of those that stand for all
    for (guint i = 0; i < n; i++) {
        const Estimate *r = w->rows->pdata[i];
        const bool shown = i == (guint)((guint64)k * (n - 1) / (MOST_UNNAMED - 2));
        if (shown || r->unit == w->s->focus)
            g_ptr_array_add(some, (gpointer)r);
        k += shown;
    }
    g_ptr_array_unref(w->rows);
    w->rows = some;
    w->of = n;
}

Exhibit *exhibit_rows_units(const Source *s, const ExhibitKind *kind) {
    if (words_single(s->e))
        return NULL;
    LookupKey key = lookup_key(kind->indicator);
    Rows w = {s,
              lookup_indicator(s->lookup, kind->indicator),
              WORDS_COUNT,
              lookup_row(s->lookup, &key),
              g_ptr_array_new(),
              FIELD_COUNT,
              0};
    for (guint u = 1; w.network && u < s->e->units->len; u++) {
        key.unit = g_array_index(s->e->units, uint16_t, u);
        const Estimate *r = lookup_row(s->lookup, &key);
        if (r && lookup_is_known(s->lookup, r))
            g_ptr_array_add(w.rows, (gpointer)r);
    }
    g_ptr_array_sort(w.rows, compare_estimates);
    thin(&w);
    return finish(&w, kind);
}

Exhibit *exhibit_rows_groups(const Source *s, const ExhibitKind *kind) {
    LookupKey key = lookup_key(kind->indicator);
    key.unit = s->focus;
    Rows w = {s,
              lookup_indicator(s->lookup, kind->indicator),
              WORDS_COUNT,
              lookup_row(s->lookup, &key),
              g_ptr_array_new(),
              kind->by,
              0};
    GArray *groups = lookup_groups(s->lookup, kind->indicator, kind->by);
    key.by = kind->by;
    for (guint g = 0; g < groups->len; g++) {
        key.group = g_array_index(groups, uint16_t, g);
        const Estimate *r = lookup_row(s->lookup, &key);
        if (r)
            g_ptr_array_add(w.rows, (gpointer)r);
    }
    g_array_unref(groups);
    return finish(&w, kind);
}
