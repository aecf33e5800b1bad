// SPDX-License-Identifier: GPL-3.0-or-later
// The plain counts of a report.
#include "measure/counts.h"

#include "measure/period.h"

static Crosstab *table(unsigned rows, unsigned columns) {
    Crosstab *t = g_new(Crosstab, 1);
    *t = (Crosstab){rows, columns, g_new0(uint64_t, (size_t)rows * columns + 1)};
    return t;
}

static Crosstab *by_month(const Transfers *t, const Network *network, int first, int end) {
    Crosstab *months = table(t->units->len, end > first ? (unsigned)(end - first) : 0);
    const uint16_t *unit = transfers_units(t, FIELD_sending_unit);
    int month = first;
    int32_t low = 0, high = 0; // its days; neighbours in a log often share a month
    for (size_t i = 0; i < t->n; i++) {
        const int32_t day = transfers_day(t, i, network);
        if (day < low || day >= high) {
            month = period_month(day);
            low = period_first_day(month);
            high = period_first_day(month + 1);
        }
        if (month < first || month >= end)
            continue;
        months->n[(size_t)unit[i] * months->columns + (size_t)(month - first)]++;
        if (unit[i])
            months->n[month - first]++;
    }
    return months;
}

// Whether each record lies in the months [first, end).
static uint8_t *in_span(const Transfers *t, const Network *network, int first, int end) {
    const int32_t low = period_first_day(first), high = period_first_day(end);
    uint8_t *in = g_new(uint8_t, t->n + 1);
    for (size_t i = 0; i < t->n; i++) {
        const int32_t day = transfers_day(t, i, network);
        in[i] = day >= low && day < high;
    }
    return in;
}

static Crosstab *by_harm(const Transfers *t, const uint8_t *in) {
    Crosstab *harm = table(field_table[FIELD_events].codes->n + 1, field_harm.n + 1);
    for (size_t i = 0; i < t->n; i++) {
        size_t n;
        const Event *events = transfers_events_of(t, i, &n);
        for (size_t k = 0; k < n && (!in || in[i]); k++)
            harm->n[(size_t)events[k].category * harm->columns + events[k].harm]++;
    }
    return harm;
}

static Crosstab *departures(const Transfers *t, const uint8_t *in) {
    Condition *left = condition_parse("departed=yes", NULL);
    Crosstab *flow = crosstab_fields(t, in, left, FIELD_sending_unit, FIELD_receiving_unit);
    condition_free(left);
    return flow;
}

Counts *counts_new(const Transfers *t, const Network *network, int first_month, int end_month,
                   bool span_given, double confidence) {
    Counts *c = g_new0(Counts, 1);
    c->months = by_month(t, network, first_month, end_month);
    c->in = span_given ? in_span(t, network, first_month, end_month) : NULL;
    c->harm = by_harm(t, c->in);
    c->flow = departures(t, c->in);
    crosstab_completeness(t, c->in, &c->asked, &c->known);
    c->cover = cover_measure(t, network, span_given ? period_first_day(first_month) : WHEN_UNKNOWN,
                             period_first_day(end_month), confidence);
    c->first_month = first_month;
    return c;
}

void counts_free(Counts *c) {
    if (!c)
        return;
    crosstab_free(c->months);
    crosstab_free(c->harm);
    crosstab_free(c->flow);
    crosstab_free(c->asked);
    crosstab_free(c->known);
    cover_free(c->cover);
    g_free(c->in);
    g_free(c);
}
