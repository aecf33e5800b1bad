// SPDX-License-Identifier: GPL-3.0-or-later
// The harm ladder: categories of events by degree of harm.
#include "pack/exhibit_harm.h"

#include "pack/parts.h"

#include <math.h>

#define ROW 18 // px
#define LEFT 150
#define RIGHT 66

// From near miss to death, then what nobody graded; darker is worse.
static const unsigned fills[] = {0xE6EFF7, 0xC3DCF0, 0xF0C463, 0xDB8E00, 0xB84A00, 0x5E1400};
#define UNGRADED 0xDADDE2

typedef struct {
    unsigned category;
    uint64_t n;
} Row;

static gint compare_rows(gconstpointer a, gconstpointer b) {
    const Row *x = a, *y = b;
    return x->n > y->n ? -1 : x->n < y->n ? 1 : (int)x->category - (int)y->category;
}

static GArray *rows_of(const Crosstab *t) {
    GArray *rows = g_array_new(FALSE, FALSE, sizeof(Row));
    for (unsigned c = 1; c < t->rows; c++) {
        Row row = {c, 0};
        for (unsigned h = 0; h < t->columns; h++)
            row.n += crosstab_at(t, c, h);
        if (row.n > 0)
            g_array_append_val(rows, row);
    }
    g_array_sort(rows, compare_rows);
    return rows;
}

static const char *harm_name(unsigned harm) {
    return harm ? field_code_text(&field_harm, harm) : "not graded";
}

// Degrees in print order: near miss to death, then not graded.
static unsigned degree(unsigned place) {
    return place < field_harm.n ? place + 1 : 0;
}

static unsigned fill(unsigned harm) {
    return harm ? fills[(harm - 1) % G_N_ELEMENTS(fills)] : UNGRADED;
}

static Sheet *table(const Crosstab *t, const GArray *rows) {
    Sheet *s =
        sheet_new("Events by category and degree of harm; near misses are no adverse events");
    sheet_column(s, "Category", SHEET_TEXT, WORDS_COUNT);
    for (unsigned k = 0; k <= field_harm.n; k++)
        sheet_column(s, harm_name(degree(k)), SHEET_NUMBER, WORDS_COUNT);
    sheet_column(s, "All", SHEET_NUMBER, WORDS_COUNT);
    for (guint r = 0; r < rows->len; r++) {
        const Row *row = &g_array_index(rows, Row, r);
        char *name = words_code(field_code_text(field_table[FIELD_events].codes, row->category));
        sheet_text(s, name);
        g_free(name);
        for (unsigned k = 0; k <= field_harm.n; k++)
            sheet_number(s, (double)crosstab_at(t, row->category, degree(k)));
        sheet_number(s, (double)row->n);
    }
    return s;
}

// The degrees that the longest bar, the first, has are named over it; returns how many.
static guint named_degrees(const Crosstab *t, const Row *first, PartsName parts[PARTS_MOST]) {
    guint n = 0;
    double at = 0;
    for (unsigned k = 0; k <= field_harm.n && n < PARTS_MOST; k++) {
        const double events = (double)crosstab_at(t, first->category, degree(k)),
                     share = (at + events / 2) / (double)first->n;
        at += events;
        if (events > 0)
            parts[n++] = (PartsName){.name = harm_name(degree(k)),
                                     .middle = LEFT + share * (CHART_WIDTH - LEFT - RIGHT)};
    }
    return n;
}

// The number of a bar's events, and of those of degrees that the first bar has none of.
static char *number(const Crosstab *t, const Row *row, const Row *first) {
    char *n = words_figure(WORDS_COUNT, (double)row->n, 0);
    GString *text = g_string_new(n);
    g_free(n);
    for (unsigned k = 0; k <= field_harm.n; k++) {
        const uint64_t events = crosstab_at(t, row->category, degree(k));
        if (events > 0 && crosstab_at(t, first->category, degree(k)) == 0)
            g_string_append_printf(text, ", %s %" G_GUINT64_FORMAT, harm_name(degree(k)), events);
    }
    return g_string_free(text, FALSE);
}

static void draw_row(Chart *c, const Crosstab *t, const Row *row, const Row *first, double y) {
    double at = 0;
    for (unsigned k = 0; k <= field_harm.n; k++) {
        const double n = (double)crosstab_at(t, row->category, degree(k));
        const double bar[] = {at, at + n, y - 0.36, y + 0.36, fill(degree(k))};
        if (n > 0)
            chart_row(c, 5, bar);
        at += n;
    }
    char *name = words_code(field_code_text(field_table[FIELD_events].codes, row->category)),
         *n = number(t, row, first);
    ChartPlace place = {.x = LEFT - 10, .x_px = true, .y = y, .align = "right", .colour = "ink"};
    chart_label(c, &place, name);
    place = (ChartPlace){.x = at, .y = y, .align = "left", .colour = "grey", .dx = 6};
    chart_label(c, &place, n);
    g_free(name);
    g_free(n);
}

static Chart *draw(const Crosstab *t, const GArray *rows) {
    const Row *first = &g_array_index(rows, Row, 0);
    PartsName parts[PARTS_MOST];
    const guint named = named_degrees(t, first, parts);
    const ChartFrame frame = {
        CHART_WIDTH, LEFT, RIGHT, parts_place(named, parts, CHART_WIDTH), 8, ROW * (int)rows->len};
    char *name = words_code(field_code_text(field_table[FIELD_events].codes, first->category)),
         *title = g_strdup_printf("What went wrong: most often %s, %" G_GUINT64_FORMAT " times",
                                  name, first->n);
    Chart *c = chart_new(
        "stack.gp", title,
        "Number of events by category, at the right; each bar in degrees of harm, as named over "
        "the first; darker is worse.",
        &frame);
    chart_range(c, 'x', 0, (double)first->n);
    chart_range(c, 'y', 0.4, rows->len + 0.6);
    chart_tics(c, 'x', 0, NULL, NULL);
    chart_tics(c, 'y', 0, NULL, NULL);
    parts_draw(c, named, parts, c->top + 5);
    for (guint r = 0; r < rows->len; r++)
        draw_row(c, t, &g_array_index(rows, Row, r), first, rows->len - r);
    c->finding = g_strdup_printf("Stacked bars. %s.", title);
    g_free(name);
    g_free(title);
    return c;
}

Exhibit *exhibit_harm_ladder(const Source *s, const ExhibitKind *kind) {
    GArray *rows = rows_of(s->counts->harm);
    Exhibit *x = NULL;
    if (rows->len > 0 && !s->focus)
        x = exhibit_new(kind, s->charts ? draw(s->counts->harm, rows) : NULL,
                        table(s->counts->harm, rows));
    g_array_unref(rows);
    return x;
}
