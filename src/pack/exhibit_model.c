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

// Levels of these are numbers and need the field's name before them.
static const char *named(FieldId field) {
    return field == FIELD_age_band         ? "age "
           : field == FIELD_care_level     ? "care "
           : field == FIELD_requested_hour ? "request in hour "
                                           : "";
}

// "age 75-89", "not ventilated", "time-critical", "journey under 30 min".
static char *level_name(const Source *s, const CasemixTerm *t) {
    const FieldId field = field_find(t->factor, strlen(t->factor));
    const bool known = strcmp(t->level, "unknown") != 0;
    if (field == FIELD_COUNT) { // the journey's length
        char *code = words_code(t->level),
             *text = g_strdup_printf(known ? "journey %s min" : "journey's length %s",
                                     known ? code : "not known");
        g_free(code);
        return text;
    }
    const uint16_t level =
        known ? field_code(field_table[field].codes, t->level, strlen(t->level)) : 0;
    char *group = words_group(s->e, s->network, field, level),
         *text = g_strconcat(known ? named(field) : "", group, NULL);
    g_free(group);
    return text;
}

// The name of the level that a term's factor is held against.
static char *reference_name(const Source *s, const Casemix *m, const CasemixTerm *of) {
    for (guint i = 0; i < m->terms->len; i++) {
        const CasemixTerm *t = m->terms->pdata[i];
        if (!strcmp(t->factor, of->factor) && t->odds_ratio.estimate == 1 &&
            !isfinite(t->odds_ratio.lower))
            return level_name(s, t);
    }
    return g_strdup("");
}

static char *ratio_text(const CasemixTerm *t) {
    return words_interval(WORDS_RATE, t->odds_ratio.estimate, t->odds_ratio.lower,
                          t->odds_ratio.upper, 2);
}

// How far the interval stays from 1, on the log scale; 0 where it reaches 1.
static double distance(const CasemixTerm *t) {
    return fmax(0, fmax(log(t->odds_ratio.lower), -log(t->odds_ratio.upper)));
}

// The level whose odds are most surely others than those of the commonest, with its interval.
static char *title(const Source *s, const Casemix *m, const Indicator *in, const GPtrArray *drawn) {
    const CasemixTerm *most = drawn->pdata[0];
    for (guint k = 1; k < drawn->len; k++)
        if (distance(drawn->pdata[k]) > distance(most))
            most = drawn->pdata[k];
    if (!(distance(most) > 0))
        return g_strdup_printf("%s: no group of patients has odds surely other than the commonest",
                               in->title);
    char *ratio = ratio_text(most), *name = level_name(s, most),
         *against = reference_name(s, m, most),
         *text = g_strdup_printf("%s: odds when %s are %s times those when %s", in->title, name,
                                 ratio, against);
    g_free(ratio);
    g_free(name);
    g_free(against);
    return text;
}

// What the diamonds are worth.
static char *how_to_read(const GPtrArray *drawn) {
    guint away = 0;
    for (guint k = 0; k < drawn->len; k++)
        away += distance(drawn->pdata[k]) > 0;
    return g_strdup_printf("Odds ratio against the commonest (behind the slash), the others of the "
                           "model being equal. Line: interval. Diamond: it does not reach 1 "
                           "(%u of %u).",
                           away, drawn->len);
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

static Sheet *table(const Source *s, const Casemix *m, const Indicator *in) {
    char *text = g_strdup_printf("%s: odds ratios of the case-mix model", in->title);
    Sheet *sheet = sheet_new(text);
    g_free(text);
    sheet_column(sheet, "Patients", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Against", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Odds ratio", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Events", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "Of", SHEET_NUMBER, WORDS_COUNT);
    for (guint i = 0; i < m->terms->len; i++) {
        const CasemixTerm *t = m->terms->pdata[i];
        if (!isfinite(t->odds_ratio.lower))
            continue;
        char *name = level_name(s, t), *against = reference_name(s, m, t), *ratio = ratio_text(t);
        sheet_text(sheet, name);
        sheet_text(sheet, against);
        sheet_text(sheet, ratio);
        sheet_number(sheet, t->events);
        sheet_number(sheet, t->records);
        g_free(name);
        g_free(against);
        g_free(ratio);
    }
    return sheet;
}

static double place_of(double ratio) {
    return log2(fmin(fmax(ratio, 1 / furthest), furthest));
}

static void draw_row(Chart *c, const Source *s, const Casemix *m, const CasemixTerm *t, double y) {
    const bool away = distance(t) > 0;
    const double row[] = {place_of(t->odds_ratio.estimate),
                          place_of(t->odds_ratio.lower),
                          place_of(t->odds_ratio.upper),
                          y,
                          chart_where(!away, y),
                          chart_where(away, y)};
    char *name = level_name(s, t), *against = reference_name(s, m, t),
         *whole = g_strdup_printf("%s / %s", name, against), *cut = chart_fit(whole, 13, LEFT - 16),
         *value = ratio_text(t);
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

static Chart *draw(const Source *s, const Casemix *m, const Indicator *in, const GPtrArray *drawn) {
    static const double at[] = {-2, -1, 0, 1, 2};
    static const char *const text[] = {"1/4", "1/2", "1", "2", "4"};
    const guint n = drawn->len;
    char *head = title(s, m, in, drawn), *how = how_to_read(drawn);
    double widest = 120;
    for (guint k = 0; k < n; k++) {
        char *ratio = ratio_text(drawn->pdata[k]);
        widest = fmax(widest, chart_text_width(ratio, 13));
        g_free(ratio);
    }
    const ChartFrame frame = {CHART_WIDTH, LEFT, (int)widest + 20, 8, 30, ROW * (int)n};
    Chart *c = chart_new("rows.gp", head, how, &frame);
    for (guint k = 0; k < n; k++)
        draw_row(c, s, m, drawn->pdata[k], (double)(n - k));
    chart_tics(c, 'x', G_N_ELEMENTS(at), at, text);
    chart_rules(c, 'x');
    chart_range(c, 'x', -log2(furthest), log2(furthest));
    chart_range(c, 'y', 0.4, n + 0.6);
    chart_tics(c, 'y', 0, NULL, NULL);
    chart_reference(c, 'x', 0);
    c->told = true; // casemix.csv
    c->finding = g_strdup_printf("Dot-and-interval chart. %s.", head);
    g_free(head);
    g_free(how);
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
    Exhibit *x = exhibit_new(kind, s->charts && drawn->len ? draw(s, f->model, in, drawn) : NULL,
                             table(s, f->model, in));
    x->note = note(f->model, in);
    g_ptr_array_unref(drawn);
    return x;
}
