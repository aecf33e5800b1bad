// SPDX-License-Identifier: GPL-3.0-or-later
// Counts -> estimates. One pass a record set; additive measures are kept as sums, the others as
// lists of durations.
#include "measure/estimate.h"
#include "measure/count.h"

#include <string.h>

static const CountSpan no_break = {0};

typedef struct {
    Estimates *e;
    CountData *data;
    const Indicator *indicator;
    uint16_t index;
    GArray *parts; // uint16_t: codes of a mix, in print order
} Work;

// Rows of one indicator for one unit, period and group.
static void add_rows(Work *w, uint16_t unit, uint16_t period, FieldId by, uint16_t group) {
    CountCell cell = {.unit = unit, .period = period, .by = by, .group = group};
    count_cell(w->data, w->indicator, &cell);
    unsigned parts = 1;
    if (w->indicator->measure == MEASURE_MIX)
        parts = w->parts->len;
    else if (w->indicator->measure == MEASURE_QUANTILE)
        parts = 4;
    for (unsigned p = 0; p < parts; p++) {
        Estimate row = {
            .indicator = w->index, .unit = unit, .period = period, .by = by, .group = group};
        if (w->indicator->measure == MEASURE_MIX)
            row.part = g_array_index(w->parts, uint16_t, p);
        else
            row.quantile = (uint8_t)p;
        count_estimate(w->data, w->indicator, &cell, &row, w->e->confidence);
        g_array_append_val(w->e->rows, row);
    }
    count_clear(&cell);
}

static void add_groups(Work *w, uint16_t unit, uint16_t period) {
    for (unsigned b = 0; b < w->indicator->n_by; b++) {
        const FieldId by = w->indicator->by[b];
        const GArray *codes = count_codes(w->data, by);
        for (guint c = 0; c < codes->len; c++)
            add_rows(w, unit, period, by, g_array_index(codes, uint16_t, c));
    }
}

static void add_indicator(Work *w) {
    count_prepare(w->data, w->indicator);
    w->parts = count_parts(w->data, w->indicator);
    for (guint u = 0; u < w->e->units->len; u++) {
        const uint16_t unit = g_array_index(w->e->units, uint16_t, u);
        for (guint p = 0; p < w->e->periods->len; p++) {
            const PeriodKind kind = g_array_index(w->e->periods, Period, p).kind;
            if (unit != 0 && kind == PERIOD_MONTH)
                continue;
            add_rows(w, unit, (uint16_t)p, FIELD_COUNT, 0);
            if (unit == 0 || kind == PERIOD_ALL)
                add_groups(w, unit, (uint16_t)p);
        }
    }
    g_array_unref(w->parts);
}

Estimates *estimate_all(const Transfers *t, const Network *network, GPtrArray *catalogue,
                        const EstimateSettings *settings) {
    Estimates *e = g_new0(Estimates, 1);
    e->catalogue = catalogue;
    e->t = t;
    e->confidence = settings->confidence;
    e->rows = g_array_new(FALSE, FALSE, sizeof(Estimate));
    CountSpan span = no_break;
    span.given = settings->has_span;
    span.first = settings->span_first;
    span.end = settings->span_end;
    CountData *data = count_data_new(t, network, &span);
    e->periods = g_array_ref(count_periods(data));
    e->units = g_array_ref(count_units(data));
    for (guint i = 0; i < catalogue->len; i++) {
        Work w = {e, data, catalogue->pdata[i], (uint16_t)i, NULL};
        add_indicator(&w);
    }
    count_data_free(data);
    return e;
}

void estimate_free(Estimates *e) {
    if (!e)
        return;
    g_array_unref(e->periods);
    g_array_unref(e->units);
    g_array_unref(e->rows);
    g_free(e);
}

const char *estimate_measure(const Estimates *e, const Estimate *row) {
    static const char *const names[] = {"share", "rate", NULL, "mix", "count", "hours", "overlap"};
    static const char *const quantiles[] = {"p25", "median", "p75", "p90"};
    const Indicator *i = e->catalogue->pdata[row->indicator];
    return i->measure == MEASURE_QUANTILE ? quantiles[row->quantile] : names[i->measure];
}

const char *estimate_method(const Estimates *e, const Estimate *row) {
    const Indicator *i = e->catalogue->pdata[row->indicator];
    switch (i->measure) {
    case MEASURE_SHARE:
        return "wilson";
    case MEASURE_RATE:
        return i->events ? "fay-feuer" : "exact-poisson";
    case MEASURE_HOURS:
        return "fay-feuer";
    case MEASURE_COUNT:
        return "exact-poisson";
    case MEASURE_QUANTILE:
        return "order-statistic";
    case MEASURE_MIX:
        return "goodman";
    case MEASURE_OVERLAP:
        return "block-linearised";
    }
    return "";
}

static const char *code_of(const Estimates *e, FieldId f, uint16_t value) {
    if (value == 0)
        return "unknown";
    return field_table[f].kind == KIND_UNIT ? e->t->units->pdata[value]
                                            : field_code_text(field_table[f].codes, value);
}

char *estimate_group(const Estimates *e, const Estimate *row) {
    const Indicator *i = e->catalogue->pdata[row->indicator];
    GString *text = g_string_new(NULL);
    if (row->by < FIELD_COUNT)
        g_string_append_printf(text, "%s=%s", field_table[row->by].name,
                               code_of(e, row->by, row->group));
    if (row->part)
        g_string_append_printf(text, "%s%s=%s", text->len ? " & " : "",
                               i->field == FIELD_events ? "event" : field_table[i->field].name,
                               code_of(e, i->field, row->part));
    if (text->len == 0)
        g_string_append(text, "all");
    return g_string_free(text, FALSE);
}
