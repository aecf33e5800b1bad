// SPDX-License-Identifier: GPL-3.0-or-later
// Mixes as bars of parts that make a whole, lying one below the other.
#include "pack/exhibit_mix.h"

#include "pack/parts.h"

#include <math.h>

#define ROW 23 // px
#define RIGHT 46
#define FIGURE 11 // px of figures in bars
#define GROUP 66  // for the names of a unit's bars

// Fills for parts in print order; each differs from its neighbours in lightness too. The parts are
// named over the first bar and kept apart by white rules.
static const struct {
    unsigned fill;
    const char *text; // colour of a figure on it
} fills[] = {
    {0x0B4F7D, "paper"}, {0x56B4E9, "ink"},   {0xBFDDF2, "ink"}, {0x0072B2, "paper"},
    {0x00795A, "paper"}, {0xE69F00, "ink"},   {0xF5D98B, "ink"}, {0x9A4F86, "paper"},
    {0xC9CED6, "ink"},   {0x5F6670, "paper"},
};

typedef struct {
    char *name;
    char *group;   // the part of a unit that the bar is of, if it has one for each; else NULL
    GArray *parts; // const Estimate *, in print order
    bool unit;     // of one unit among the network's
} Bar;

typedef struct {
    const Source *s;
    const Indicator *indicator;
    GArray *bars; // of Bar
    int left;     // px from the left edge to the bars
} Mix;

static void clear_bar(gpointer data) {
    g_free(((Bar *)data)->name);
    g_free(((Bar *)data)->group);
    g_array_unref(((Bar *)data)->parts);
}

// Adds a bar if anything is known of it.
static void add_bar(Mix *m, LookupKey key, char *name, char *group, bool unit) {
    Bar bar = {name, group, g_array_new(FALSE, FALSE, sizeof(const Estimate *)), unit};
    const CodeList *codes = field_table[m->indicator->field].codes;
    for (uint16_t part = 1; part <= codes->n; part++) {
        key.part = part;
        const Estimate *r = lookup_row(m->s->lookup, &key);
        if (r && isfinite(r->estimate))
            g_array_append_val(bar.parts, r);
    }
    if (bar.parts->len > 0)
        g_array_append_val(m->bars, bar);
    else
        clear_bar(&bar);
}

// Bars of the groups that are known: of the whole, or of a unit among others.
static void add_groups(Mix *m, LookupKey key, FieldId by, bool unit) {
    GArray *groups = lookup_groups(m->s->lookup, key.indicator, by);
    key.by = by;
    for (guint g = 0; g < groups->len; g++) {
        key.group = g_array_index(groups, uint16_t, g);
        if (key.group == 0)
            continue;
        char *group = words_group(m->s->e, m->s->network, by, key.group);
        if (unit)
            add_bar(m, key, g_strdup(words_unit_name(m->s->e, m->s->network, key.unit)), group,
                    true);
        else
            add_bar(m, key, group, NULL, false);
    }
    g_array_unref(groups);
}

static const Estimate *part_of(const Bar *bar, guint p) {
    return g_array_index(bar->parts, const Estimate *, p);
}

static char *part_name(const Mix *m, const Estimate *r) {
    return words_group(m->s->e, m->s->network, m->indicator->field, r->part);
}

// Parts as rows; the whole and its groups as columns (units' figures stand in their bars).
static Sheet *table(const Mix *m) {
    Sheet *s = sheet_new(m->indicator->title);
    guint shown = 0;
    sheet_column(s, "Part", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, "Number", SHEET_NUMBER, WORDS_COUNT);
    while (shown < m->bars->len && !g_array_index(m->bars, Bar, shown).unit)
        sheet_column(s, g_array_index(m->bars, Bar, shown++).name, SHEET_INTERVAL, WORDS_PERCENT);
    const Bar *whole = &g_array_index(m->bars, Bar, 0);
    for (guint p = 0; p < whole->parts->len; p++) {
        char *part = part_name(m, part_of(whole, p));
        sheet_text(s, part);
        sheet_number(s, part_of(whole, p)->events);
        for (guint b = 0; b < shown; b++) {
            const Bar *bar = &g_array_index(m->bars, Bar, b);
            const Estimate *r = p < bar->parts->len ? part_of(bar, p) : NULL;
            sheet_interval(s, r ? r->estimate : NAN, r ? r->lower : NAN, r ? r->upper : NAN);
        }
        g_free(part);
    }
    return s;
}

static const Bar *bar_at(const Mix *m, guint b) {
    return &g_array_index(m->bars, Bar, b);
}

// Whether a bar is of the same unit as the one above.
static bool goes_on(const Mix *m, guint b) {
    return b > 0 && bar_at(m, b)->group && bar_at(m, b - 1)->group &&
           part_of(bar_at(m, b), 0)->unit == part_of(bar_at(m, b - 1), 0)->unit;
}

// Rows left free above a bar: units stand apart from the whole, and in pairs from each other.
static double gap(const Mix *m, guint b) {
    return b == 0 || !bar_at(m, b)->unit           ? 0
           : !bar_at(m, b - 1)->unit               ? 0.5
           : bar_at(m, b)->group && !goes_on(m, b) ? 0.22
                                                   : 0;
}

static double tall(const Bar *bar) {
    return bar->group ? 0.56 : 1;
}

static double px_of(const Mix *m, double share) {
    return m->left + share * (exhibit_width(m->s) - m->left - RIGHT);
}

// Parts of a bar that have names over it; returns how many. The names go into `names`.
static guint named_parts(const Mix *m, const Bar *bar, PartsName parts[PARTS_MOST],
                         GPtrArray *names) {
    double at = 0;
    for (guint p = 0; p < bar->parts->len && names->len < PARTS_MOST; p++) {
        const Estimate *r = part_of(bar, p);
        at += r->estimate;
        if (r->estimate < 0.004)
            continue;
        char *name = part_name(m, r);
        parts[names->len] = (PartsName){.name = name, .middle = px_of(m, at - r->estimate / 2)};
        g_ptr_array_add(names, name);
    }
    return names->len;
}

// Name, group and number of a bar; a unit's name stands once, between its bars.
static void bar_texts(Chart *c, const Mix *m, guint b, double y) {
    const Bar *bar = bar_at(m, b);
    const bool pair = b + 1 < m->bars->len && goes_on(m, b + 1);
    char *cut = chart_fit(bar->name, 13, m->left - 14 - (bar->group ? GROUP : 0)),
         *n = words_figure(WORDS_COUNT, part_of(bar, 0)->total, 0);
    ChartPlace place = {.x = m->left - 10 - (bar->group ? GROUP : 0),
                        .x_px = true,
                        .y = pair ? y - tall(bar) / 2 : y,
                        .align = "right",
                        .colour = "ink",
                        .bold = !bar->unit};
    if (!goes_on(m, b))
        chart_label(c, &place, cut);
    place.y = y;
    place.colour = "grey";
    place.bold = false;
    place.size = bar->group ? 11 : 13;
    place.x = m->left - 8;
    if (bar->group)
        chart_label(c, &place, bar->group);
    place.x = c->width - CHART_EDGE;
    chart_label(c, &place, n);
    g_free(cut);
    g_free(n);
}

static void draw_bar(Chart *c, const Mix *m, guint b, double y) {
    const Bar *bar = bar_at(m, b);
    double at = 0;
    for (guint p = 0; p < bar->parts->len; p++) {
        const Estimate *r = part_of(bar, p);
        const unsigned k = (r->part - 1u) % G_N_ELEMENTS(fills);
        const double half = bar->group ? 0.26 : 0.36,
                     row[] = {at, at + r->estimate, y - half, y + half, fills[k].fill};
        chart_row(c, G_N_ELEMENTS(row), row);
        char *figure = words_figure(WORDS_PERCENT, r->estimate, 0);
        if (px_of(m, r->estimate) - px_of(m, 0) > chart_text_width(figure, FIGURE)) {
            const ChartPlace place = {.x = px_of(m, at + r->estimate / 2),
                                      .x_px = true,
                                      .y = y,
                                      .align = "center",
                                      .colour = fills[k].text,
                                      .size = FIGURE};
            chart_label(c, &place, figure);
        }
        g_free(figure);
        at += r->estimate;
    }
    bar_texts(c, m, b, y);
}

// The greatest part of a bar, but for one (NULL: of all); NULL if there is no other.
static const Estimate *greatest(const Bar *bar, const Estimate *but) {
    const Estimate *most = NULL;
    for (guint p = 0; p < bar->parts->len; p++) {
        const Estimate *r = part_of(bar, p);
        if (r != but && (!most || r->estimate > most->estimate))
            most = r;
    }
    return most;
}

static char *with_share(const Mix *m, const Estimate *r) {
    char *figure = words_figure(WORDS_PERCENT, r->estimate, 0), *part = part_name(m, r),
         *text = g_strdup_printf("%s, %s", part, figure);
    g_free(part);
    g_free(figure);
    return text;
}

static char *title(const Mix *m) {
    const Bar *whole = &g_array_index(m->bars, Bar, 0);
    const Estimate *most = greatest(whole, NULL), *next = greatest(whole, most);
    const bool nothing =
        m->indicator->field == FIELD_delay_reason && most->part == CODE_delay_reason_NONE;
    if (!nothing || !next || next->estimate <= 0) {
        char *first = with_share(m, most),
             *text = g_strdup_printf("%s: most often %s", m->indicator->title, first);
        g_free(first);
        return text;
    }
    char *figure = words_figure(WORDS_PERCENT, most->estimate, 0), *second = with_share(m, next),
         *text = g_strdup_printf("%s: nothing in %s, else most often %s", m->indicator->title,
                                 figure, second);
    g_free(second);
    g_free(figure);
    return text;
}

static Chart *draw(const Mix *m) {
    double n = 0;
    for (guint b = 0; b < m->bars->len; b++)
        n += tall(bar_at(m, b)) + gap(m, b);
    PartsName parts[PARTS_MOST];
    GPtrArray *names = g_ptr_array_new_with_free_func(g_free);
    const guint named = named_parts(m, bar_at(m, 0), parts, names);
    const int width = exhibit_width(m->s);
    const ChartFrame frame = {width, m->left,       RIGHT, parts_place(named, parts, width),
                              10,    (int)(ROW * n)};
    char *head = title(m);
    Chart *c = chart_new("stack.gp", head,
                         "Each bar: 100 % of the transfers for which it is known, their number "
                         "at the right.",
                         &frame);
    chart_range(c, 'x', 0, 1);
    chart_range(c, 'y', 0.5, n + 0.5);
    chart_tics(c, 'x', 0, NULL, NULL);
    chart_tics(c, 'y', 0, NULL, NULL);
    double edge = n + 0.5;
    for (guint b = 0; b < m->bars->len; b++) {
        edge -= gap(m, b) + tall(bar_at(m, b));
        draw_bar(c, m, b, edge + tall(bar_at(m, b)) / 2);
    }
    parts_draw(c, named, parts, c->top + 8);
    g_ptr_array_unref(names);
    c->finding = g_strdup_printf("Stacked bars. %s.", head);
    g_free(head);
    return c;
}

static double widest_name(const Mix *m) {
    double widest = 60;
    for (guint b = 0; b < m->bars->len; b++)
        widest = fmax(widest, chart_text_width(bar_at(m, b)->name, 13) * 1.03);
    return widest;
}

Exhibit *exhibit_mix_stack(const Source *s, const ExhibitKind *kind) {
    Mix m = {s, lookup_indicator(s->lookup, kind->indicator),
             g_array_new(FALSE, FALSE, sizeof(Bar)), 0};
    // by day and night each unit has two bars, by other fields one
    const bool pairs = kind->by == FIELD_out_of_hours;
    g_array_set_clear_func(m.bars, clear_bar);
    Exhibit *x = NULL;
    if (m.indicator && m.indicator->measure == MEASURE_MIX) {
        LookupKey key = lookup_key(kind->indicator);
        key.unit = s->focus;
        add_bar(&m, key,
                g_strdup(s->focus ? words_unit_name(s->e, s->network, s->focus)
                                  : words_whole(s->e, s->network)),
                NULL, false);
        if (kind->by < FIELD_COUNT)
            add_groups(&m, key, kind->by, false);
        for (guint u = 1; !s->focus && !words_single(s->e) && u < s->e->units->len; u++) {
            key.unit = g_array_index(s->e->units, uint16_t, u);
            if (pairs)
                add_groups(&m, key, kind->by, true);
            else
                add_bar(&m, key, g_strdup(words_unit_name(s->e, s->network, key.unit)), NULL, true);
        }
        m.left = 14 + (pairs && !s->focus ? GROUP : 0) + (int)fmin(widest_name(&m), 150);
        if (m.bars->len > 0)
            x = exhibit_new(kind, s->charts ? draw(&m) : NULL, table(&m));
    }
    g_array_unref(m.bars);
    return x;
}
