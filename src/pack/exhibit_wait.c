// SPDX-License-Identifier: GPL-3.0-or-later
// Waiting times: quantiles by group, on a scale that doubles.
#include "pack/exhibit_wait.h"

#include <math.h>

enum { ROW = 26, NINE_IN_TEN = 48 }; // px

typedef struct {
    char *name;
    const Estimate *q[4]; // p25, median, p75, p90
} Line;

typedef struct {
    const Source *s;
    const Indicator *indicator;
    GArray *lines; // of Line, top row first
} Wait;

static void clear_line(gpointer data) {
    g_free(((Line *)data)->name);
}

static void add_line(Wait *w, LookupKey *key, char *name) {
    Line line = {.name = name};
    bool any = true;
    for (uint8_t q = 0; q < 4; q++) {
        key->quantile = q;
        line.q[q] = lookup_row(w->s->lookup, key);
        any = any && line.q[q] && isfinite(line.q[q]->estimate);
    }
    if (any)
        g_array_append_val(w->lines, line);
    else
        g_free(name);
}

static Sheet *table(const Wait *w, const char *groups) {
    char *caption = g_strdup_printf("%s by %s", w->indicator->title, groups);
    Sheet *s = sheet_new(caption);
    static const char *const heads[] = {"A quarter within", "Half within (median)",
                                        "Three quarters within", "Nine in ten within"};
    sheet_column(s, "Group", SHEET_TEXT, WORDS_COUNT);
    for (int q = 0; q < 4; q++)
        sheet_column(s, heads[q], q == 1 || q == 3 ? SHEET_INTERVAL : SHEET_NUMBER, WORDS_MINUTES);
    sheet_column(s, "Of", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(s, "Unknown", SHEET_NUMBER, WORDS_COUNT);
    for (guint k = 0; k < w->lines->len; k++) {
        const Line *line = &g_array_index(w->lines, Line, k);
        sheet_text(s, line->name);
        for (int q = 0; q < 4; q++)
            sheet_interval(s, line->q[q]->estimate, line->q[q]->lower, line->q[q]->upper);
        sheet_number(s, line->q[0]->total);
        sheet_number(s, (double)line->q[0]->unknown);
    }
    g_free(caption);
    return s;
}

// Ticks at doublings that cover the lines.
static void scale(Chart *c, double shortest, double longest) {
    static const double at[] = {1, 2, 5, 15, 30, 60, 120, 240, 480, 1440, 2880, 5760, 10080, 20160};
    static const char *const text[] = {"1 min",  "2 min",  "5 min",  "15 min", "30 min",
                                       "1 h",    "2 h",    "4 h",    "8 h",    "1 day",
                                       "2 days", "4 days", "1 week", "2 weeks"};
    guint first = 0, end = G_N_ELEMENTS(at);
    while (first + 1 < end && at[first + 1] <= shortest)
        first++;
    while (end > first + 2 && at[end - 2] >= longest)
        end--;
    chart_rules(c, 'x');
    chart_doubling(c, fmin(at[first], fmax(shortest, 0.5)), fmax(at[end - 1], longest), end - first,
                   at + first, text + first);
}

// px from the right edge to the medians; a narrow chart does without the figures of nine in ten.
static int median_at(const Chart *c) {
    return c->width == CHART_NARROW ? NINE_IN_TEN : 112;
}

static void line_texts(Chart *c, const Line *line, double y, int name_right) {
    char *cut = chart_fit(line->name, 13, name_right - 2);
    ChartPlace place = {
        .x = name_right, .x_px = true, .y = y, .align = "right", .colour = "ink", .bold = true};
    chart_label(c, &place, cut);
    g_free(cut);
    for (int q = 1; q < 4; q += 2) {
        if (q == 3 && c->width == CHART_NARROW)
            continue;
        char *text = words_figure(WORDS_MINUTES, line->q[q]->estimate, 0);
        place.x = c->width - (q == 1 ? median_at(c) : NINE_IN_TEN);
        place.bold = q == 1;
        chart_label(c, &place, text);
        g_free(text);
    }
    char *n = words_figure(WORDS_COUNT, line->q[0]->total, 0);
    place.x = c->width - CHART_EDGE;
    place.colour = "grey";
    chart_label(c, &place, n);
    g_free(n);
}

static void heads(Chart *c) {
    static const char *const text[] = {"median", "9 in 10", "n"};
    const int x[] = {median_at(c), NINE_IN_TEN, CHART_EDGE};
    for (int i = 0; i < 3; i++) {
        if (i == 1 && c->width == CHART_NARROW)
            continue;
        const ChartPlace place = {.x = c->width - x[i],
                                  .y = c->top - 12,
                                  .x_px = true,
                                  .y_px = true,
                                  .align = "right",
                                  .colour = "grey",
                                  .size = 12};
        chart_label(c, &place, text[i]);
    }
}

static char *title(const Wait *w) {
    GString *text = g_string_new(w->indicator->title);
    g_string_append(text, ", median: ");
    for (guint k = 0; k < w->lines->len && k < 3; k++) {
        const Line *line = &g_array_index(w->lines, Line, k);
        char *half = words_figure(WORDS_MINUTES, line->q[1]->estimate, 0);
        g_string_append_printf(text, "%s%s %s", k ? ", " : "", line->name, half);
        g_free(half);
    }
    return g_string_free(text, FALSE);
}

static Chart *draw(const Wait *w) {
    const guint n = w->lines->len;
    double widest = 60, shortest = INFINITY, longest = 1;
    for (guint k = 0; k < n; k++) {
        const Line *line = &g_array_index(w->lines, Line, k);
        widest = fmax(widest, chart_text_width(line->name, 13) * 1.06);
        shortest = fmin(shortest, line->q[0]->estimate);
        longest = fmax(longest, line->q[3]->estimate);
    }
    const int left = 18 + (int)fmin(widest, 200);
    const ChartFrame frame = {exhibit_width(w->s), left, w->s->focus ? 122 : 180, 24, 30,
                              ROW * (int)n};
    char *head = title(w);
    Chart *c =
        chart_new("quantiles.gp", head,
                  "Pale bar: the middle half. Dot: the median, on the dark line of its interval. "
                  "Stroke: nine in ten. Logarithmic scale.",
                  &frame);
    for (guint k = 0; k < n; k++) {
        const Line *line = &g_array_index(w->lines, Line, k);
        const double y = (double)(n - k), row[] = {y,
                                                   fmax(line->q[0]->estimate, 0.5),
                                                   fmax(line->q[1]->estimate, 0.5),
                                                   fmax(line->q[2]->estimate, 0.5),
                                                   fmax(line->q[3]->estimate, 0.5),
                                                   line->q[1]->lower,
                                                   line->q[1]->upper};
        chart_row(c, G_N_ELEMENTS(row), row);
        line_texts(c, line, y, left - 12);
    }
    scale(c, shortest, longest);
    chart_range(c, 'y', 0.4, n + 0.6);
    chart_tics(c, 'y', 0, NULL, NULL);
    heads(c);
    c->finding = g_strdup_printf("Chart of quantiles. %s.", head);
    g_free(head);
    return c;
}

Exhibit *exhibit_wait_quantiles(const Source *s, const ExhibitKind *kind) {
    Wait w = {s, lookup_indicator(s->lookup, kind->indicator),
              g_array_new(FALSE, FALSE, sizeof(Line))};
    g_array_set_clear_func(w.lines, clear_line);
    Exhibit *x = NULL;
    if (w.indicator && w.indicator->measure == MEASURE_QUANTILE) {
        LookupKey key = lookup_key(kind->indicator);
        key.unit = s->focus;
        GArray *groups = lookup_groups(s->lookup, kind->indicator, kind->by);
        for (guint g = 0; g < groups->len; g++) {
            key.by = kind->by;
            key.group = g_array_index(groups, uint16_t, g);
            if (key.group)
                add_line(&w, &key, words_group(s->e, s->network, kind->by, key.group));
        }
        g_array_unref(groups);
        char *field = words_field(kind->by);
        if (w.lines->len > 0)
            x = exhibit_new(kind, s->charts ? draw(&w) : NULL, table(&w, field));
        g_free(field);
    }
    g_array_unref(w.lines);
    return x;
}
