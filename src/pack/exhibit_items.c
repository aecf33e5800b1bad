// SPDX-License-Identifier: GPL-3.0-or-later
// A row for each item, below each group the whole of it.
#include "pack/exhibit_items.h"

#include <math.h>

enum { ROW = 23, ROW_ALONE = 14, NAME = 216, NUMBER = 54 }; // px
#define STRIP 0.3 // rows that the units lie below the network

// What is drawn and told of one item, or of the whole that a group of them makes.
typedef struct {
    char *name;
    const Item *item; // NULL: the whole
    StatsInterval shown, network;
    double total, unknown, if_none, if_all; // the last two of a whole
} Line;

typedef struct {
    const Source *s;
    guint focus;  // place of the unit in focus in e->units, 0 = the network
    GArray *rows; // of Line
} Items;

static void clear_line(gpointer line) {
    g_free(((Line *)line)->name);
}

static uint16_t unit_at(const Items *x, guint place) {
    return g_array_index(x->s->e->units, uint16_t, place);
}

static const Line *line_at(const Items *x, guint k) {
    return &g_array_index(x->rows, Line, k);
}

// Whether a unit differs from the network, all units and items allowed for.
static bool leaves(const Line *line, guint place) {
    const StatsInterval *v = &line->item->cells[place].together;
    return v->lower > line->network.estimate || v->upper < line->network.estimate;
}

static const Estimate *whole_of(const Items *x, const char *indicator, uint16_t unit) {
    LookupKey key = lookup_key(indicator);
    key.unit = unit;
    return lookup_row(x->s->lookup, &key);
}

static void add_item(Items *x, const Item *item) {
    const ItemsCell *cell = &item->cells[x->focus];
    if (item->cells[0].total == 0) // no log tells of it
        return;
    const Line line = {
        words_field(item->field), item, cell->share, item->cells[0].share, (double)cell->total,
        (double)cell->unknown,    NAN,  NAN};
    g_array_append_val(x->rows, line);
}

static void add_whole(Items *x, uint16_t index) {
    const Indicator *i = x->s->e->catalogue->pdata[index];
    const Estimate *own = whole_of(x, i->name, x->s->focus), *all = whole_of(x, i->name, 0);
    if (!own || !all)
        return;
    const Line line = {g_strdup(i->title),
                       NULL,
                       {own->estimate, own->lower, own->upper},
                       {all->estimate, all->lower, all->upper},
                       own->total,
                       (double)own->unknown,
                       own->if_none,
                       own->if_all};
    g_array_append_val(x->rows, line);
}

static void find_rows(Items *x) {
    const GPtrArray *items = x->s->items;
    for (guint u = 1; u < x->s->e->units->len; u++)
        if (x->s->focus && unit_at(x, u) == x->s->focus)
            x->focus = u;
    for (guint k = 0; k < items->len; k++) {
        const Item *item = items->pdata[k];
        add_item(x, item);
        if (k + 1 == items->len ||
            ((const Item *)items->pdata[k + 1])->indicator != item->indicator)
            add_whole(x, item->indicator);
    }
}

// ---- table ----

// Units that lie below the network, all units and items allowed for.
static char *below(const Items *x, const Line *line) {
    GString *text = g_string_new(NULL);
    for (guint u = 1; line->item && u < x->s->e->units->len; u++) {
        const StatsInterval *v = &line->item->cells[u].share;
        if (!(leaves(line, u) && v->estimate < line->network.estimate))
            continue;
        char *figure = words_interval(WORDS_PERCENT, v->estimate, v->lower, v->upper, 0);
        g_string_append_printf(text, "%s%s %s", text->len ? "; " : "",
                               words_unit_name(x->s->e, x->s->network, unit_at(x, u)), figure);
        g_free(figure);
    }
    return g_string_free(text, FALSE);
}

static Sheet *table(const Items *x) {
    Sheet *s = sheet_new("Each item of the equipment and the papers: there and working, or not "
                         "needed, of the transfers in which that is known");
    sheet_column(s, "Item", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, x->focus ? "This unit" : words_whole(x->s->e, x->s->network), SHEET_INTERVAL,
                 WORDS_PERCENT);
    sheet_column(s, "Of", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(s, "Unknown", SHEET_NUMBER, WORDS_COUNT);
    if (x->focus)
        sheet_column(s, "The network", SHEET_INTERVAL, WORDS_PERCENT);
    else if (!words_single(x->s->e))
        sheet_column(s, "Units below the network by more than chance", SHEET_TEXT, WORDS_COUNT);
    for (guint k = 0; k < x->rows->len; k++) {
        const Line *line = line_at(x, k);
        char *units = below(x, line);
        sheet_text(s, line->name);
        sheet_interval(s, line->shown.estimate, line->shown.lower, line->shown.upper);
        sheet_number(s, line->total);
        sheet_number(s, line->unknown);
        if (x->focus)
            sheet_interval(s, line->network.estimate, line->network.lower, line->network.upper);
        else if (!words_single(x->s->e))
            sheet_text(s, units);
        g_free(units);
    }
    return s;
}

// ---- chart ----

// Rows from the lower edge, a bit more room below each whole.
static double height_of(const Items *x, guint k) {
    double y = 1;
    for (guint j = k + 1; j < x->rows->len; j++)
        y += line_at(x, j - 1)->item ? 1 : 1.4;
    return y;
}

static double least_of(const Items *x) {
    double least = 1;
    for (guint k = 0; k < x->rows->len; k++) {
        const Line *line = line_at(x, k);
        least = fmin(least, fmin(line->shown.lower, line->network.lower));
        for (guint u = 1; line->item && !x->focus && u < x->s->e->units->len; u++)
            least = fmin(least, line->item->cells[u].share.estimate);
    }
    return least;
}

// Dots need no zero: from a ten below the least to 100 %. Returns where the axis begins.
static double axis(Chart *c, const Items *x) {
    const double room = x->focus ? 0 : 0.15, // for a name
        from = fmax(0, fmin(floor(10 * (least_of(x) - room)) / 10, 0.8)),
                 px = c->width - c->left - c->right,
                 step = (1 - from) / 0.1 * 52 <= px   ? 0.1
                        : (1 - from) / 0.2 * 52 <= px ? 0.2
                                                      : 0.5;
    const guint n = 1 + (guint)floor((1 - from) / step + 1e-9);
    double at[12];
    char *text[12];
    for (guint k = 0; k < n; k++) {
        at[n - 1 - k] = 1 - k * step;
        text[n - 1 - k] = words_figure(WORDS_PERCENT, 1 - k * step, 0);
    }
    chart_tics(c, 'x', n, at, (const char *const *)text);
    chart_rules(c, 'x');
    chart_range(c, 'x', from, 1);
    for (guint k = 0; k < n; k++)
        g_free(text[k]);
    return from;
}

static void row_texts(Chart *c, const Items *x, const Line *line, double y, int left) {
    char *cut = chart_fit(line->name, 13, NAME),
         *value = words_figure(WORDS_PERCENT, line->shown.estimate, 0),
         *n = words_figure(WORDS_COUNT, line->total, 0);
    ChartPlace place = {.x = left - 12,
                        .x_px = true,
                        .y = y,
                        .align = "right",
                        .bold = !line->item,
                        .colour = "ink"};
    chart_label(c, &place, cut);
    place.x = c->width - (x->focus ? CHART_EDGE : NUMBER);
    chart_label(c, &place, value);
    place.x = c->width - CHART_EDGE;
    place.colour = "grey";
    place.bold = false;
    if (!x->focus)
        chart_label(c, &place, n);
    g_free(cut);
    g_free(value);
    g_free(n);
}

// The units beneath the network's row; the one furthest below is named, where its name fits.
static void strip(Chart *c, const Items *x, const Line *line, double y, double px, double from) {
    guint lowest = 0;
    for (guint u = 1; u < x->s->e->units->len; u++) {
        const StatsInterval *v = &line->item->cells[u].share;
        const bool marked = leaves(line, u);
        const double row[] = {v->estimate, chart_where(!marked, y - STRIP),
                              chart_where(marked, y - STRIP), NAN};
        if (!isfinite(v->estimate))
            continue;
        chart_row(c, G_N_ELEMENTS(row), row);
        if (marked && v->estimate < line->network.estimate &&
            (lowest == 0 || v->estimate < line->item->cells[lowest].share.estimate))
            lowest = u;
    }
    if (lowest == 0)
        return;
    const double at = line->item->cells[lowest].share.estimate;
    const char *name = words_unit_name(x->s->e, x->s->network, unit_at(x, lowest));
    const ChartPlace place = {
        .x = at, .y = y - STRIP, .align = "right", .colour = "ink", .size = 12, .dx = -9};
    if (chart_text_width(name, 12) + 9 < (at - from) / (1 - from) * px)
        chart_label(c, &place, name);
}

static char *title(const Items *x) {
    const Line *least = NULL;
    for (guint k = 0; k < x->rows->len; k++) {
        const Line *line = line_at(x, k);
        if (line->item && isfinite(line->shown.estimate) &&
            (!least || line->shown.estimate < least->shown.estimate))
            least = line;
    }
    if (!least)
        return g_strdup("Equipment and papers, item by item: not known here");
    char *figure = words_figure(WORDS_PERCENT, least->shown.estimate, 0),
         *text = g_strdup_printf("Most often missing%s: %s, there in %s of the transfers",
                                 x->focus ? " here" : "", least->name, figure);
    g_free(figure);
    return text;
}

static void column_heads(Chart *c) {
    ChartPlace place = {.x = c->width - NUMBER,
                        .y = c->top - 12,
                        .x_px = true,
                        .y_px = true,
                        .align = "right",
                        .colour = "grey",
                        .size = 12};
    chart_label(c, &place, "estimate");
    place.x = c->width - CHART_EDGE;
    chart_label(c, &place, "of");
}

static int left_of(const Items *x) {
    double widest = 60;
    for (guint k = 0; k < x->rows->len; k++)
        widest = fmax(widest,
                      chart_text_width(line_at(x, k)->name, 13) * (line_at(x, k)->item ? 1 : 1.04));
    return 18 + (int)fmin(widest, NAME);
}

static Chart *draw(const Items *x) {
    const double tall = height_of(x, 0);
    const int left = left_of(x);
    const ChartFrame frame = {
        x->focus ? CHART_NARROW : CHART_WIDE,      left, x->focus ? 56 : 108, x->focus ? 6 : 22, 30,
        (int)((x->focus ? ROW_ALONE : ROW) * tall)};
    char *head = title(x);
    Chart *c = chart_new(
        "items.gp", head,
        x->focus ? "Diamond and line: this unit with its interval. Stroke: the network."
        : words_single(x->s->e)
            ? "Dot and line: the share with its interval."
            : "Dot and line: the network with its interval. Below it a ring for each unit; "
              "diamond: differs by more than chance, all units and items allowed for, the "
              "furthest below named.",
        &frame);
    const double from = axis(c, x);
    chart_range(c, 'y', 0.5, tall + 0.5);
    chart_tics(c, 'y', 0, NULL, NULL);
    if (!x->focus)
        column_heads(c);
    for (guint k = 0; k < x->rows->len; k++) {
        const Line *line = line_at(x, k);
        const double y = height_of(x, k),
                     row[] = {line->shown.estimate, line->shown.lower, line->shown.upper,
                              chart_where(!x->focus, y), chart_where(x->focus, y)};
        chart_row(c, G_N_ELEMENTS(row), row);
        row_texts(c, x, line, y, left);
    }
    chart_row(c, 0, NULL);
    chart_row(c, 0, NULL);
    for (guint k = 0; k < x->rows->len; k++) {
        const Line *line = line_at(x, k);
        const double y = height_of(x, k), stroke[] = {line->network.estimate, NAN, NAN, y};
        if (x->focus)
            chart_row(c, G_N_ELEMENTS(stroke), stroke);
        else if (line->item)
            strip(c, x, line, y, c->width - c->left - c->right, from);
    }
    c->finding = g_strdup_printf("Dot-and-interval chart of each item. %s.", head);
    g_free(head);
    return c;
}

// How the wholes are to be read: what blanks do to them, and the worst that they could hide.
static char *note_of(const Items *x) {
    GString *text = g_string_new(
        x->focus
            ? ""
            : "More than chance: by limits that hold for all units and items at once (Sidak). ");
    g_string_append(text,
                    "Not needed counts as there. A whole needs every item: one that is missing "
                    "settles a record, a blank leaves it unknown, so blanks push the whole down.");
    for (guint k = 0; k < x->rows->len; k++) {
        const Line *line = line_at(x, k);
        if (line->item || line->unknown == 0 || !isfinite(line->if_none))
            continue;
        char *none = words_figure(WORDS_PERCENT, line->if_none, 0),
             *all = words_figure(WORDS_PERCENT, line->if_all, 0);
        g_string_append_printf(text, " %s: %s were none of the unknown so, %s were all.",
                               line->name, none, all);
        g_free(none);
        g_free(all);
    }
    return g_string_free(text, FALSE);
}

Exhibit *exhibit_items_dots(const Source *s, const ExhibitKind *kind) {
    Items x = {s, 0, g_array_new(FALSE, FALSE, sizeof(Line))};
    g_array_set_clear_func(x.rows, clear_line);
    find_rows(&x);
    Exhibit *exhibit = NULL;
    if (x.rows->len > 0) {
        exhibit = exhibit_new(kind, s->charts ? draw(&x) : NULL, table(&x));
        exhibit->note = note_of(&x);
    }
    g_array_unref(x.rows);
    return exhibit;
}
