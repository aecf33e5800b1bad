// SPDX-License-Identifier: GPL-3.0-or-later
// Writing changes.csv, series.csv, mixes.csv and waits.csv.
#include "pack/changes.h"

#include "base/csvtable.h"
#include "pack/tables.h"

#include <math.h>

static const char *unit_name(const Comparisons *c, uint16_t unit) {
    return unit ? c->t->units->pdata[unit] : "all";
}

static const char *indicator_name(const Comparisons *c, uint16_t indicator) {
    return ((const Indicator *)c->catalogue->pdata[indicator])->name;
}

static void group(GString *out, uint16_t urgency) {
    char *text = signal_group(urgency);
    csvtable_append_cell(out, text);
    g_free(text);
}

// Beside the trend of a volume: that of the units with records in every month.
static void append_steady(GString *out, const Signal *s) {
    const bool some = s->kind == SIGNAL_TREND && s->series->steady_units > 0;
    const ChangeTrend *t = &s->series->steady_trend;
    const double values[] = {some ? (double)s->series->steady_units : NAN,
                             some ? t->ratio.estimate : NAN, some ? t->ratio.lower : NAN,
                             some ? t->ratio.upper : NAN, some ? t->p : NAN};
    tables_numbers(out, values, G_N_ELEMENTS(values));
}

GString *changes_csv(const Signals *signals, const Comparisons *c) {
    GString *out =
        g_string_new("unit,indicator,group,kind,period,against,direction,estimate,reference,"
                     "effect,lower,upper,p,q,worst_p,robust,steady_units,"
                     "steady_estimate,steady_lower,steady_upper,steady_p\n");
    for (guint i = 0; i < signals->changes->len; i++) {
        const Signal *s = signals->changes->pdata[i];
        const double values[] = {s->estimate, s->reference, s->effect, s->lower,
                                 s->upper,    s->p,         s->q,      s->worst};
        char *robust = compare_robust(s->robust, s->rests_on);
        csvtable_append_cell(out, unit_name(c, s->unit));
        csvtable_append_cell(out, indicator_name(c, s->indicator));
        group(out, s->urgency);
        csvtable_append_cell(out, signal_kind(s->kind));
        csvtable_append_cell(out, s->period);
        csvtable_append_cell(out, s->against);
        csvtable_append_cell(out, signal_direction(s->direction));
        for (guint k = 0; k < G_N_ELEMENTS(values); k++) {
            tables_number(out, values[k]);
            g_string_append_c(out, ',');
        }
        csvtable_append_cell(out, robust);
        g_free(robust);
        append_steady(out, s);
    }
    return out;
}

static void append_points(GString *out, const Comparisons *c, const Series *s, const GArray *points,
                          const char *chart, const GArray *periods) {
    for (guint i = 0; i < points->len; i++) {
        const SeriesPoint *p = &g_array_index(points, SeriesPoint, i);
        const bool gaps = points == s->gaps;
        const double centre = gaps || s->chart <= SERIES_XMR ? s->model.centre : NAN;
        const double values[] = {p->value, centre, p->lower, p->upper};
        int year, month, day;
        csvtable_append_cell(out, unit_name(c, s->unit));
        csvtable_append_cell(out, indicator_name(c, s->indicator));
        group(out, s->urgency);
        csvtable_append_cell(out, chart);
        if (gaps) {
            when_civil(p->day, &year, &month, &day);
            g_string_append_printf(out, "%04d-%02d-%02d,", year, month, day);
        } else {
            csvtable_append_cell(out, g_array_index(periods, Period, p->period).name);
        }
        for (guint k = 0; k < G_N_ELEMENTS(values); k++) {
            tables_number(out, values[k]);
            g_string_append_c(out, ',');
        }
        g_string_append_printf(out, "%s,%s\n", p->whole ? "yes" : "no", p->beyond ? "yes" : "no");
    }
}

GString *changes_series(const Signals *signals, const Comparisons *c, const GArray *periods) {
    static const char *const charts[] = {"p", "u", "xmr", "g", "t"};
    GString *out =
        g_string_new("unit,indicator,group,chart,period,value,centre,lower,upper,whole,beyond\n");
    for (guint i = 0; i < signals->series->len; i++) {
        const Series *s = signals->series->pdata[i];
        const SeriesChart chart = s->measure == CHANGE_SHARE    ? SERIES_P
                                  : s->measure == CHANGE_MEDIAN ? SERIES_XMR
                                                                : SERIES_U;
        append_points(out, c, s, s->points, charts[chart], periods);
        if (s->gaps)
            append_points(out, c, s, s->gaps, charts[s->chart], periods);
    }
    return out;
}

static const char *part_name(const Estimates *e, const Indicator *in, uint16_t part) {
    return field_table[in->field].kind == KIND_UNIT
               ? e->t->units->pdata[part]
               : field_code_text(field_table[in->field].codes, part);
}

GString *changes_mixes(const GPtrArray *mixes, const Estimates *e) {
    GString *out = g_string_new("indicator,unit,part,events,total,expected,residual,chi_square,df,"
                                "p,cramer_v,smallest_expected\n");
    for (guint i = 0; i < mixes->len; i++) {
        const Mixunits *m = mixes->pdata[i];
        const Indicator *in = e->catalogue->pdata[m->indicator];
        for (guint k = 0; k < m->cells->len; k++) {
            const MixunitsCell *x = &g_array_index(m->cells, MixunitsCell, k);
            const double values[] = {x->events,   x->total,          x->expected,
                                     x->residual, m->test.statistic, m->test.df,
                                     m->test.p,   m->test.cramer_v,  m->test.smallest};
            csvtable_append_cell(out, in->name);
            csvtable_append_cell(out, e->t->units->pdata[x->unit]);
            csvtable_append_cell(out, part_name(e, in, x->part));
            tables_numbers(out, values, G_N_ELEMENTS(values));
        }
    }
    return out;
}

static void append_wait(GString *out, const WaitingGroup *g, const WaitingPoint *p, unsigned end) {
    const bool open = end == WAITING_ENDS;
    const StatsInterval still = {p->open, NAN, NAN}, *share = open ? &still : &p->end[end];
    const double values[] = {share->estimate, share->lower, share->upper, p->at_risk};
    csvtable_append_cell(out, field_code_text(field_table[FIELD_urgency].codes, g->urgency));
    tables_number(out, p->minutes);
    g_string_append_c(out, ',');
    csvtable_append_cell(out, open ? "open" : waiting_end(end));
    tables_numbers(out, values, G_N_ELEMENTS(values));
}

GString *changes_waits(const GPtrArray *waiting) {
    GString *out = g_string_new("urgency,minutes,end,estimate,lower,upper,at_risk\n");
    for (guint i = 0; i < waiting->len; i++) {
        const WaitingGroup *g = waiting->pdata[i];
        for (guint k = 0; k < g->points->len; k++)
            for (unsigned end = 0; end <= WAITING_ENDS; end++)
                append_wait(out, g, &g_array_index(g->points, WaitingPoint, k), end);
    }
    return out;
}
