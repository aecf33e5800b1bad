// SPDX-License-Identifier: GPL-3.0-or-later
// The wait as curves, by how it ended, and in phases.
#include "pack/exhibit_curves.h"

#include "pack/heat.h"

#include <math.h>

enum { MOST_CURVES = 3 };
static const char *const shades[MOST_CURVES] = {"blue", "green", "purple"};
enum { TWO_HOURS = 3, A_DAY = 6 }; // marks
// Those under a chart, its axis from SHORTEST minutes on: their names must not touch.
static const guint shown_marks[] = {1, 2, 3, 4, 5, 6, 7, 9};
enum { SHOWN = G_N_ELEMENTS(shown_marks), SHORTEST = 20 };
static const char *const mark_names[WAITING_MARKS] = {
    "15 min", "30 min", "1 h", "2 h", "4 h", "8 h", "1 day", "2 days", "4 days", "1 week"};

static const char *name_of(const WaitingGroup *g) {
    return field_code_text(field_table[FIELD_urgency].codes, g->urgency);
}

static const WaitingPoint *point(const WaitingGroup *g, guint k) {
    return &g_array_index(g->points, WaitingPoint, k);
}

static const WaitingPoint *mark(const WaitingGroup *g, guint k) {
    return &g_array_index(g->marks, WaitingPoint, k);
}

static GPtrArray *curves_of(const Source *s) {
    GPtrArray *list = g_ptr_array_new();
    const GPtrArray *groups = s->focus ? NULL : s->waiting;
    for (guint i = 0; groups && i < groups->len && list->len < MOST_CURVES; i++)
        if (((WaitingGroup *)groups->pdata[i])->points->len > 1)
            g_ptr_array_add(list, groups->pdata[i]);
    return list;
}

static const struct {
    const char *caption, *how;
    int height; // of the plot, px
} looks[WAITING_ENDS] = {
    [WAITING_LEFT] = {"Had left by the time since the request; the others wait still, were stood "
                      "down or had died",
                      "Share that had left by then, with its interval; the rest wait still, were "
                      "stood down or had died. Below: requests still open.",
                      180},
    [WAITING_STOOD_DOWN] = {"Had been stood down by the time since the request",
                            "Share stood down by then, with its interval; a departure or a death "
                            "comes before it. Below: requests still open.",
                            110},
    [WAITING_DIED] = {"Had died, waiting, by the time since the request",
                      "Share that had died before departure by then, with its interval. Below: "
                      "requests still open.",
                      110},
};

static Sheet *end_sheet(const GPtrArray *curves, WaitingEnd end) {
    Sheet *s = sheet_new(looks[end].caption);
    sheet_column(s, "Within", SHEET_TEXT, WORDS_COUNT);
    for (guint i = 0; i < curves->len; i++) {
        sheet_column(s, name_of(curves->pdata[i]), SHEET_INTERVAL, WORDS_PERCENT);
        sheet_column(s, "Still open before", SHEET_NUMBER, WORDS_COUNT);
    }
    for (guint k = 0; k < WAITING_MARKS; k++) {
        sheet_text(s, mark_names[k]);
        for (guint i = 0; i < curves->len; i++) {
            const WaitingPoint *p = mark(curves->pdata[i], k);
            sheet_interval(s, p->end[end].estimate, p->end[end].lower, p->end[end].upper);
            sheet_number(s, p->at_risk);
        }
    }
    return s;
}

// Numbers at risk under the axis, a line each.
static void at_risk(Chart *c, const WaitingGroup *g, guint line, guint n_ticks) {
    const double y = c->height - 14 - 19.0 * (2 - line);
    ChartPlace place = {.x = CHART_EDGE,
                        .x_px = true,
                        .y = y,
                        .y_px = true,
                        .align = "left",
                        .colour = shades[line],
                        .size = 12,
                        .bold = true};
    chart_label(c, &place, name_of(g));
    char *key = g_strdup_printf("key_%u", line); // of the line drawn under it
    chart_set(c, key, 1 - (y + 8) / c->height);
    g_free(key);
    for (guint k = 0; k < n_ticks; k++) {
        char *text = words_figure(WORDS_COUNT, mark(g, shown_marks[k])->at_risk, 0);
        const ChartPlace cell = {.x = waiting_mark(shown_marks[k]),
                                 .y = y,
                                 .y_px = true,
                                 .align = "center",
                                 .colour = "grey",
                                 .size = 12};
        chart_label(c, &cell, text);
        g_free(text);
    }
}

static double or_at(double limit, double estimate) {
    return isfinite(limit) ? limit : estimate;
}

static void add_curve(Chart *c, const WaitingGroup *g, WaitingEnd end, guint line) {
    if (line > 0) {
        chart_row(c, 0, NULL);
        chart_row(c, 0, NULL);
    }
    for (guint k = 0; k < g->points->len; k++) {
        const StatsInterval *p = &point(g, k)->end[end];
        const double est = or_at(p->estimate, 0),
                     row[] = {point(g, k)->minutes, est, or_at(p->lower, est),
                              or_at(p->upper, est)};
        chart_row(c, 4, row);
    }
}

// Names a curve of departures beside its middle.
static void name_inside(Chart *c, const WaitingGroup *g, guint line) {
    guint k = 0;
    while (k + 1 < g->points->len && !(point(g, k)->end[WAITING_LEFT].estimate >= 0.55))
        k++;
    const ChartPlace place = {.x = point(g, k)->minutes,
                              .y = point(g, k)->end[WAITING_LEFT].estimate,
                              .align = "right",
                              .colour = shades[line],
                              .bold = true,
                              .dx = -10};
    chart_label(c, &place, name_of(g));
}

static double final_share(const GPtrArray *curves, guint i, WaitingEnd end) {
    const WaitingGroup *g = curves->pdata[i];
    return or_at(point(g, g->points->len - 1)->end[end].estimate, 0);
}

// Names curves that stay low at their right ends, pushed apart to both sides where they would
// touch.
static void name_at_ends(Chart *c, const GPtrArray *curves, WaitingEnd end, double top) {
    const double apart = top * 17 / c->tall;
    double y[MOST_CURVES];
    guint order[MOST_CURVES]; // lowest first
    for (guint n = 0; n < curves->len; n++) {
        guint k = n;
        for (; k > 0 && final_share(curves, order[k - 1], end) > final_share(curves, n, end); k--)
            order[k] = order[k - 1];
        order[k] = n;
    }
    for (guint k = 0; k < curves->len; k++)
        y[k] = final_share(curves, order[k], end);
    for (int pass = 0; pass < 20; pass++)
        for (guint k = 1; k < curves->len; k++) {
            const double lacking = fmax(0, apart - (y[k] - y[k - 1]));
            y[k] += lacking / 2;
            y[k - 1] -= lacking / 2;
        }
    for (guint k = 0; k < curves->len; k++) {
        const ChartPlace place = {.x = c->width - c->right + 6,
                                  .x_px = true,
                                  .y = y[k],
                                  .align = "left",
                                  .colour = shades[order[k]],
                                  .bold = true};
        chart_label(c, &place, name_of(curves->pdata[order[k]]));
    }
}

static char *end_title(const GPtrArray *curves, WaitingEnd end) {
    if (end == WAITING_LEFT) {
        const WaitingGroup *g = curves->pdata[0];
        const double left = mark(g, TWO_HOURS)->end[end].estimate;
        char *share = words_figure(WORDS_PERCENT, left, 0),
             *text = g_strdup_printf("%s of the %s had left two hours after the request", share,
                                     name_of(g));
        g_free(share);
        return text;
    }
    GString *text = g_string_new(end == WAITING_DIED ? "Died waiting" : "Stood down");
    g_string_append(text, " within a day: ");
    double most = 0;
    for (guint i = 0; i < curves->len; i++)
        most = fmax(most, or_at(mark(curves->pdata[i], A_DAY)->end[end].estimate, 0));
    for (guint i = 0; i < curves->len; i++) {
        const double estimate = mark(curves->pdata[i], A_DAY)->end[end].estimate;
        char *share = words_figure(WORDS_PERCENT, estimate, words_decimals(WORDS_PERCENT, most));
        g_string_append_printf(text, "%s%s %s", i ? ", " : "", name_of(curves->pdata[i]), share);
        g_free(share);
    }
    return g_string_free(text, FALSE);
}

static double longest_of(const GPtrArray *curves) {
    double longest = 60;
    for (guint i = 0; i < curves->len; i++) {
        const WaitingGroup *g = curves->pdata[i];
        longest = fmax(longest, point(g, g->points->len - 1)->minutes);
    }
    return longest;
}

static double highest_of(const GPtrArray *curves, WaitingEnd end) {
    double highest = 0.01;
    for (guint i = 0; i < curves->len; i++) {
        const WaitingGroup *g = curves->pdata[i];
        for (guint k = 0; k < g->points->len; k++) {
            const StatsInterval *p = &point(g, k)->end[end];
            highest = fmax(highest, or_at(p->upper, or_at(p->estimate, 0)));
        }
    }
    return fmin(highest, 1);
}

static Chart *end_chart(const GPtrArray *curves, WaitingEnd end) {
    const bool left = end == WAITING_LEFT;
    const ChartFrame frame = {CHART_WIDTH, 94, left ? 20 : 88, 10, 100, looks[end].height};
    const double longest = longest_of(curves);
    double ticks[SHOWN];
    const char *names[SHOWN];
    guint n = 0;
    while (n < SHOWN && (n < 2 || ticks[n - 1] < longest)) {
        ticks[n] = waiting_mark(shown_marks[n]);
        names[n] = mark_names[shown_marks[n]];
        n++;
    }
    char *head = end_title(curves, end);
    Chart *c = chart_new("curves.gp", head, looks[end].how, &frame);
    const double top =
        chart_steps(c, 'y', left ? 1 : highest_of(curves, end), left ? 5 : 4, 100, " %");
    chart_range(c, 'y', 0, left ? 1 : top);
    chart_doubling(c, SHORTEST, fmax(ticks[n - 1], fmin(longest, 20160)), n, ticks, names);
    for (guint i = 0; i < curves->len; i++) {
        add_curve(c, curves->pdata[i], end, i);
        if (left)
            name_inside(c, curves->pdata[i], i);
        at_risk(c, curves->pdata[i], i, n);
    }
    if (!left)
        name_at_ends(c, curves, end, top);
    chart_set(c, "curves", curves->len);
    chart_set(c, "key_left", (double)CHART_EDGE / c->width);
    chart_set(c, "key_right", (double)(c->left - 18) / c->width);
    c->finding = g_strdup_printf("Cumulative curves. %s.", head);
    g_free(head);
    return c;
}

static char *end_note(const Source *s, WaitingEnd end) {
    guint64 out = 0, open = 0, ended = 0;
    for (guint i = 0; i < s->waiting->len; i++) {
        const WaitingGroup *g = s->waiting->pdata[i];
        out += g->left_out;
        open += g->open;
        ended += g->ended[end];
    }
    char *n_ended = words_figure(WORDS_COUNT, (double)ended, 0),
         *n_open = words_figure(WORDS_COUNT, (double)open, 0),
         *n_out = words_figure(WORDS_COUNT, (double)out, 0),
         *text = g_strdup_printf(
             "Cumulative incidence (Aalen-Johansen); requests that ended so: %s. Departure, "
             "stand-down and death before departure compete, and with those still open they make "
             "up all. Open when the log was received: %s. Left out, as times lack: %s.",
             n_ended, n_open, n_out);
    g_free(n_ended);
    g_free(n_open);
    g_free(n_out);
    return text;
}

static Exhibit *end_exhibit(const Source *s, const ExhibitKind *kind, WaitingEnd end) {
    GPtrArray *curves = curves_of(s);
    size_t ended = 0;
    for (guint i = 0; i < curves->len; i++)
        ended += ((WaitingGroup *)curves->pdata[i])->ended[end];
    Exhibit *x = NULL;
    if (curves->len > 0 && (ended > 0 || end == WAITING_LEFT)) {
        x = exhibit_new(kind, s->charts ? end_chart(curves, end) : NULL, end_sheet(curves, end));
        x->note = end_note(s, end);
    }
    g_ptr_array_unref(curves);
    return x;
}

Exhibit *exhibit_curves_left(const Source *s, const ExhibitKind *kind) {
    return end_exhibit(s, kind, WAITING_LEFT);
}

Exhibit *exhibit_curves_stood_down(const Source *s, const ExhibitKind *kind) {
    return end_exhibit(s, kind, WAITING_STOOD_DOWN);
}

Exhibit *exhibit_curves_died(const Source *s, const ExhibitKind *kind) {
    return end_exhibit(s, kind, WAITING_DIED);
}

// ---- phases ----

static Sheet *phases_sheet(const GPtrArray *groups) {
    Sheet *s =
        sheet_new("Median of each phase, of transfers with all six times known and in order");
    sheet_column(s, "Urgency", SHEET_TEXT, WORDS_COUNT);
    for (unsigned p = 0; p < WAITING_PHASES; p++)
        sheet_column(s, waiting_phase(p), SHEET_NUMBER, WORDS_MINUTES);
    sheet_column(s, "Transfers", SHEET_NUMBER, WORDS_COUNT);
    for (guint i = 0; i < groups->len; i++) {
        const WaitingGroup *g = groups->pdata[i];
        sheet_text(s, name_of(g));
        for (unsigned p = 0; p < WAITING_PHASES; p++)
            sheet_number(s, g->median[p]);
        sheet_number(s, (double)g->chains);
    }
    return s;
}

// The longest phase of the first group, the most urgent.
static char *phases_title(const GPtrArray *groups) {
    guint i = 0;
    while (((WaitingGroup *)groups->pdata[i])->chains == 0)
        i++;
    const WaitingGroup *g = groups->pdata[i];
    unsigned longest = 0;
    for (unsigned p = 1; p < WAITING_PHASES; p++)
        longest = g->median[p] > g->median[longest] ? p : longest;
    char *figure = words_figure(WORDS_MINUTES, g->median[longest], 0),
         *text = g_strdup_printf("The longest phase of the %s: %s, half within %s", name_of(g),
                                 waiting_phase(longest), figure);
    g_free(figure);
    return text;
}

static Chart *phases_chart(const GPtrArray *groups) {
    guint rows = 0;
    for (guint i = 0; i < groups->len; i++)
        rows += ((WaitingGroup *)groups->pdata[i])->chains > 0;
    if (rows == 0)
        return NULL;
    Heat *h = heat_new(rows, WAITING_PHASES);
    h->row_height = 30;
    for (unsigned p = 0; p < WAITING_PHASES; p++)
        h->column_names[p] = g_strdup(waiting_phase(p));
    guint row = 0;
    for (guint i = 0; i < groups->len; i++) {
        const WaitingGroup *g = groups->pdata[i];
        double sum = 0;
        if (g->chains == 0)
            continue;
        for (unsigned p = 0; p < WAITING_PHASES; p++)
            sum += g->median[p];
        char *n = words_figure(WORDS_COUNT, (double)g->chains, 0);
        h->row_names[row] = g_strdup_printf("%s, n %s", name_of(g), n);
        g_free(n);
        for (unsigned p = 0; p < WAITING_PHASES; p++)
            heat_set(h, row, p, sum > 0 ? g->median[p] / sum * 1.4 : 0,
                     words_figure(WORDS_MINUTES, g->median[p], 0));
        row++;
    }
    char *head = phases_title(groups);
    Chart *c = heat_chart(h, head,
                          "Medians of transfers with all six times known. Darker: a larger part of "
                          "that row. Medians do not add up to the median of the whole.");
    g_free(head);
    c->finding = g_strdup("Table of the median time of each phase by urgency.");
    heat_free(h);
    return c;
}

Exhibit *exhibit_curves_phases(const Source *s, const ExhibitKind *kind) {
    size_t chains = 0;
    for (guint i = 0; !s->focus && s->waiting && i < s->waiting->len; i++)
        chains += ((WaitingGroup *)s->waiting->pdata[i])->chains;
    if (chains == 0)
        return NULL;
    return exhibit_new(kind, s->charts ? phases_chart(s->waiting) : NULL, phases_sheet(s->waiting));
}
