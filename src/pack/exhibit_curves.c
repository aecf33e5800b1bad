// SPDX-License-Identifier: GPL-3.0-or-later
// The wait as curves and in phases.
#include "pack/exhibit_curves.h"

#include "pack/heat.h"

#include <math.h>

enum { MOST_CURVES = 3 };
static const char *const shades[MOST_CURVES] = {"blue", "green", "purple"};
static const double ticks[] = {15, 30, 60, 120, 240, 480, 1440, 2880, 5760, 10080};
static const char *const tick_names[] = {"15 min", "30 min", "1 h",    "2 h",    "4 h",
                                         "8 h",    "1 day",  "2 days", "4 days", "1 week"};

static const char *name_of(const WaitingGroup *g) {
    return field_code_text(field_table[FIELD_urgency].codes, g->urgency);
}

static const WaitingPoint *point(const WaitingGroup *g, guint k) {
    return &g_array_index(g->points, WaitingPoint, k);
}

// The last point not after a time; NULL if there is none.
static const WaitingPoint *at_time(const WaitingGroup *g, double minutes) {
    const WaitingPoint *found = NULL;
    for (guint k = 0; k < g->points->len && point(g, k)->minutes <= minutes * 1.0001; k++)
        found = point(g, k);
    return found;
}

static GPtrArray *curves_of(const Source *s) {
    GPtrArray *list = g_ptr_array_new();
    const GPtrArray *groups = s->focus ? NULL : s->waiting;
    for (guint i = 0; groups && i < groups->len && list->len < MOST_CURVES; i++)
        if (((WaitingGroup *)groups->pdata[i])->points->len > 1)
            g_ptr_array_add(list, groups->pdata[i]);
    return list;
}

static Sheet *left_sheet(const GPtrArray *curves) {
    Sheet *s =
        sheet_new("Had left by the time since the request; the others wait still, were stood "
                  "down or had died");
    sheet_column(s, "Within", SHEET_TEXT, WORDS_COUNT);
    for (guint i = 0; i < curves->len; i++) {
        sheet_column(s, name_of(curves->pdata[i]), SHEET_INTERVAL, WORDS_PERCENT);
        sheet_column(s, "Still open before", SHEET_NUMBER, WORDS_COUNT);
    }
    for (guint k = 0; k < G_N_ELEMENTS(ticks); k++) {
        sheet_text(s, tick_names[k]);
        for (guint i = 0; i < curves->len; i++) {
            const WaitingPoint *p = at_time(curves->pdata[i], ticks[k]);
            sheet_interval(s, p ? p->left.estimate : NAN, p ? p->left.lower : NAN,
                           p ? p->left.upper : NAN);
            sheet_number(s, p ? p->at_risk : NAN);
        }
    }
    return s;
}

// Numbers at risk under the axis, a line each.
static void at_risk(Chart *c, const WaitingGroup *g, guint line, guint n_ticks) {
    const double y = c->height - 12 - 17.0 * (2 - line);
    ChartPlace place = {.x = CHART_EDGE,
                        .x_px = true,
                        .y = y,
                        .y_px = true,
                        .align = "left",
                        .colour = shades[line],
                        .size = 12,
                        .bold = true};
    chart_label(c, &place, name_of(g));
    for (guint k = 0; k < n_ticks; k++) {
        const WaitingPoint *p = at_time(g, ticks[k]);
        char *text =
            words_figure(WORDS_COUNT, p && p->minutes >= ticks[k] * 0.9 ? p->at_risk : 0, 0);
        const ChartPlace cell = {
            .x = ticks[k], .y = y, .y_px = true, .align = "center", .colour = "grey", .size = 12};
        chart_label(c, &cell, text);
        g_free(text);
    }
}

static void add_curve(Chart *c, const WaitingGroup *g, guint line) {
    const WaitingPoint *half = NULL;
    if (line > 0) {
        chart_row(c, 0, NULL);
        chart_row(c, 0, NULL);
    }
    for (guint k = 0; k < g->points->len; k++) {
        const WaitingPoint *p = point(g, k);
        const double est = isfinite(p->left.estimate) ? p->left.estimate : 0,
                     row[] = {p->minutes, est, isfinite(p->left.lower) ? p->left.lower : est,
                              isfinite(p->left.upper) ? p->left.upper : est};
        chart_row(c, 4, row);
        if (!half && est >= 0.55)
            half = p;
    }
    if (!half)
        half = point(g, g->points->len - 1);
    const ChartPlace place = {.x = half->minutes,
                              .y = half->left.estimate,
                              .align = "right",
                              .colour = shades[line],
                              .bold = true,
                              .dx = -10};
    chart_label(c, &place, name_of(g));
}

static char *left_title(const GPtrArray *curves) {
    const WaitingGroup *g = curves->pdata[0];
    const WaitingPoint *p = at_time(g, 120);
    char *share = words_figure(WORDS_PERCENT, p ? p->left.estimate : NAN, 0),
         *text = g_strdup_printf("%s of the %s had left two hours after the request", share,
                                 name_of(g));
    g_free(share);
    return text;
}

static Chart *left_chart(const GPtrArray *curves) {
    static const ChartFrame frame = {98, 24, 12, 104, 270};
    double longest = 60;
    for (guint i = 0; i < curves->len; i++) {
        const WaitingGroup *g = curves->pdata[i];
        longest = fmax(longest, point(g, g->points->len - 1)->minutes);
    }
    guint n = 2;
    while (n < G_N_ELEMENTS(ticks) && ticks[n - 1] < longest)
        n++;
    char *head = left_title(curves);
    Chart *c =
        chart_new("curves.gp", head,
                  "Share that had left by then, with its interval; the rest wait still, were "
                  "stood down or had died. Below: requests still open.",
                  &frame);
    chart_steps(c, 'y', 1, 5, 100, " %");
    chart_range(c, 'y', 0, 1);
    chart_tics(c, 'x', n, ticks, tick_names);
    chart_range(c, 'x', 10, fmax(ticks[n - 1], fmin(longest, 20160)));
    for (guint i = 0; i < curves->len; i++) {
        add_curve(c, curves->pdata[i], i);
        at_risk(c, curves->pdata[i], i, n);
    }
    chart_set(c, "curves", curves->len);
    c->finding = g_strdup_printf("Cumulative curves. %s.", head);
    g_free(head);
    return c;
}

Exhibit *exhibit_curves_left(const Source *s, const ExhibitKind *kind) {
    GPtrArray *curves = curves_of(s);
    Exhibit *x = NULL;
    if (curves->len > 0) {
        x = exhibit_new(kind, s->charts ? left_chart(curves) : NULL, left_sheet(curves));
        guint64 out = 0, open = 0;
        for (guint i = 0; i < s->waiting->len; i++) {
            out += ((WaitingGroup *)s->waiting->pdata[i])->left_out;
            open += ((WaitingGroup *)s->waiting->pdata[i])->open;
        }
        x->note =
            g_strdup_printf("Cumulative incidence of departure (Aalen-Johansen). Open when the "
                            "log was received: %" G_GUINT64_FORMAT
                            ". Left out, as times lack: %" G_GUINT64_FORMAT ".",
                            open, out);
    }
    g_ptr_array_unref(curves);
    return x;
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

static Chart *phases_chart(const GPtrArray *groups) {
    guint rows = 0;
    for (guint i = 0; i < groups->len; i++)
        rows += ((WaitingGroup *)groups->pdata[i])->chains > 0;
    if (rows == 0)
        return NULL;
    Heat *h = heat_new(rows, WAITING_PHASES);
    h->row_height = 40;
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
        h->row_names[row] = g_strdup_printf("%s, n %zu", name_of(g), g->chains);
        for (unsigned p = 0; p < WAITING_PHASES; p++)
            heat_set(h, row, p, sum > 0 ? g->median[p] / sum * 1.4 : 0,
                     words_figure(WORDS_MINUTES, g->median[p], 0));
        row++;
    }
    Chart *c = heat_chart(h, "Where the time goes: the median of each phase",
                          "Complete chains of times only. Darker: a larger part of that row. "
                          "Medians do not add up to the median of the whole.");
    c->finding = g_strdup("Table of the median time of each phase by urgency.");
    heat_free(h);
    return c;
}

Exhibit *exhibit_curves_phases(const Source *s, const ExhibitKind *kind) {
    if (s->focus || !s->waiting || s->waiting->len == 0)
        return NULL;
    return exhibit_new(kind, s->charts ? phases_chart(s->waiting) : NULL, phases_sheet(s->waiting));
}
