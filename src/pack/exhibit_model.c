// SPDX-License-Identifier: GPL-3.0-or-later
// Odds ratios of a case-mix model on a log scale.
#include "pack/exhibit_model.h"

#include <math.h>
#include <string.h>

#define ROW 19 // px
#define LEFT 210
#define FEWEST 10                 // records of a level that is drawn
static const double furthest = 8; // odds ratio at either edge of the picture

static bool is_drawn(const CasemixTerm *t) {
    static const char *const factors[] = {"age_band", "care_level", "ventilated", "urgency"};
    bool found = false;
    for (guint i = 0; i < G_N_ELEMENTS(factors); i++)
        found = found || !strcmp(t->factor, factors[i]);
    return found && strcmp(t->level, "unknown") != 0 && t->records >= FEWEST &&
           isfinite(t->odds_ratio.lower);
}

// "ventilated no", with blanks for underscores and hyphens where words are meant.
static char *term_name(const CasemixTerm *t) {
    char *code = words_code(t->level),
         *name = g_strdelimit(g_strconcat(t->factor, " ", code, NULL), "_", ' ');
    g_free(code);
    return name;
}

// The level that a factor's others are held against.
static const char *reference_of(const Casemix *m, const char *factor) {
    for (guint i = 0; i < m->terms->len; i++) {
        const CasemixTerm *t = m->terms->pdata[i];
        if (!strcmp(t->factor, factor) && t->odds_ratio.estimate == 1 &&
            !isfinite(t->odds_ratio.lower))
            return t->level;
    }
    return "";
}

static char *note(const Casemix *m, const Indicator *in) {
    const CalibrationGroup *least = &m->group[0], *most = &m->group[m->groups - 1];
    char *c = words_figure(WORDS_RATE, m->c_statistic, 2),
         *first = words_figure(WORDS_RATE, least->expected, 1),
         *last = words_figure(WORDS_RATE, most->expected, 1),
         *text = g_strdup_printf(
             "%s: the case-mix model%s%s%s. c-statistic %s. Calibration: of %.0f records with the "
             "least risk "
             "%s events were expected and %.0f seen, of %.0f with the most %s and %.0f; "
             "calibration.csv has all tenths, casemix.csv all odds ratios.",
             in->title, m->firth ? ", Firth's fit" : "", m->reason ? ", with " : "",
             m->reason ? m->reason : "", c, least->trials, first, least->events, most->trials, last,
             most->events);
    g_free(c);
    g_free(first);
    g_free(last);
    return text;
}

static Sheet *table(const Casemix *m, const Indicator *in) {
    char *text = g_strdup_printf("%s: odds ratios of the case-mix model", in->title);
    Sheet *s = sheet_new(text);
    g_free(text);
    sheet_column(s, "Level", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, "Against", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, "Odds ratio", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, "Events", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(s, "Of", SHEET_NUMBER, WORDS_COUNT);
    for (guint i = 0; i < m->terms->len; i++) {
        const CasemixTerm *t = m->terms->pdata[i];
        if (!isfinite(t->odds_ratio.lower))
            continue;
        char *name = term_name(t), *against = words_code(reference_of(m, t->factor)),
             *ratio = words_interval(WORDS_RATE, t->odds_ratio.estimate, t->odds_ratio.lower,
                                     t->odds_ratio.upper, 2);
        sheet_text(s, name);
        sheet_text(s, against);
        sheet_text(s, ratio);
        sheet_number(s, t->events);
        sheet_number(s, t->records);
        g_free(name);
        g_free(against);
        g_free(ratio);
    }
    return s;
}

static double place_of(double ratio) {
    return log2(fmin(fmax(ratio, 1 / furthest), furthest));
}

static void draw_row(Chart *c, const Casemix *m, const CasemixTerm *t, double y) {
    const bool away = t->odds_ratio.lower > 1 || t->odds_ratio.upper < 1;
    const double row[] = {place_of(t->odds_ratio.estimate), place_of(t->odds_ratio.lower),
                          place_of(t->odds_ratio.upper), y, away ? 1 : 0};
    char *name = term_name(t), *against = words_code(reference_of(m, t->factor)),
         *whole = g_strdup_printf("%s / %s", name, against), *cut = chart_fit(whole, 13, LEFT - 16),
         *value = words_interval(WORDS_RATE, t->odds_ratio.estimate, t->odds_ratio.lower,
                                 t->odds_ratio.upper, 2);
    ChartPlace place = {
        .x = LEFT - 12, .x_px = true, .y = y, .align = "right", .colour = "ink", .bold = away};
    chart_row(c, G_N_ELEMENTS(row), row);
    chart_label(c, &place, cut);
    place.x = c->width - CHART_EDGE;
    chart_label(c, &place, value);
    g_free(name);
    g_free(against);
    g_free(whole);
    g_free(cut);
    g_free(value);
}

static Chart *draw(const Casemix *m, const Indicator *in, const GPtrArray *drawn) {
    static const double at[] = {-2, -1, 0, 1, 2};
    static const char *const text[] = {"1/4", "1/2", "1", "2", "4"};
    const guint n = drawn->len;
    char *c_text = words_figure(WORDS_RATE, m->c_statistic, 2),
         *head = g_strdup_printf("%s: what the case-mix model makes of the patients (c-statistic "
                                 "%s)",
                                 in->title, c_text);
    const ChartFrame frame = {CHART_WIDTH, LEFT, 136, 8, 30, ROW * (int)n};
    Chart *c = chart_new("rows.gp", head,
                         "Odds ratio against the commonest level, the others of the model being "
                         "equal. Line: interval. Diamond: it does not reach 1.",
                         &frame);
    for (guint k = 0; k < n; k++)
        draw_row(c, m, drawn->pdata[k], (double)(n - k));
    chart_tics(c, 'x', G_N_ELEMENTS(at), at, text);
    chart_rules(c, 'x');
    chart_range(c, 'x', -log2(furthest), log2(furthest));
    chart_range(c, 'y', 0.4, n + 0.6);
    chart_tics(c, 'y', 0, NULL, NULL);
    chart_reference(c, 'x', 0);
    c->numbered = true; // in print the table stays away: casemix.csv has it
    c->finding = g_strdup_printf("Dot-and-interval chart. %s.", head);
    g_free(head);
    g_free(c_text);
    return c;
}

static const Funnel *adjusted_funnel(const Comparisons *c, const char *indicator) {
    for (guint f = 0; c && f < c->funnels->len; f++) {
        const Funnel *funnel = &g_array_index(c->funnels, Funnel, f);
        const Indicator *in = c->catalogue->pdata[funnel->indicator];
        if (funnel->kind == COMPARE_ADJUSTED && !strcmp(in->name, indicator))
            return funnel;
    }
    return NULL;
}

Exhibit *exhibit_model_odds(const Source *s, const ExhibitKind *kind) {
    const Funnel *f = adjusted_funnel(s->comparisons, kind->indicator);
    if (!f || !f->model || !f->model->fitted || f->model->groups == 0)
        return NULL;
    const Indicator *in = s->comparisons->catalogue->pdata[f->indicator];
    GPtrArray *drawn = g_ptr_array_new();
    for (guint i = 0; i < f->model->terms->len; i++)
        if (is_drawn(f->model->terms->pdata[i]))
            g_ptr_array_add(drawn, f->model->terms->pdata[i]);
    Exhibit *x = exhibit_new(kind, s->charts && drawn->len ? draw(f->model, in, drawn) : NULL,
                             table(f->model, in));
    x->note = note(f->model, in);
    g_ptr_array_unref(drawn);
    return x;
}
