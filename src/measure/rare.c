// SPDX-License-Identifier: GPL-3.0-or-later
// Gaps between rare events.
#include "measure/rare.h"

#include "stats/control.h"

#include <math.h>
#include <stdlib.h>

typedef struct {
    int32_t day;
    uint32_t row, events;
} Case;

bool rare_is(const Series *s) {
    double events = 0, whole = 0;
    for (guint i = 0; i < s->points->len; i++) {
        const SeriesPoint *p = &g_array_index(s->points, SeriesPoint, i);
        events += p->cell.events;
        whole++;
    }
    return events > CHANGE_FEWEST && events < whole;
}

static int by_day(const void *a, const void *b) {
    const Case *x = a, *y = b;
    if (x->day != y->day)
        return x->day < y->day ? -1 : 1;
    return (x->row > y->row) - (x->row < y->row);
}

static GArray *cases_of(const CountData *d, const Indicator *in, uint16_t urgency) {
    const Period *span = &g_array_index(d->periods, Period, 0);
    GArray *cases = g_array_new(FALSE, FALSE, sizeof(Case));
    CountRecord record[COUNT_BLOCK];
    for (size_t first = 0; first < d->t->n; first += COUNT_BLOCK) {
        const size_t n = MIN((size_t)COUNT_BLOCK, d->t->n - first);
        count_records(d, in, first, n, record);
        for (size_t i = 0; i < n; i++) {
            const int month = d->first + d->month[first + i];
            if (urgency && count_value(d->t, FIELD_urgency, first + i) != urgency)
                continue;
            if (record[i].state != COUNT_IN || month < span->first || month >= span->end)
                continue;
            const Case one = {transfers_day(d->t, first + i, d->network), (uint32_t)(first + i),
                              record[i].events};
            g_array_append_val(cases, one);
        }
    }
    qsort(cases->data, cases->len, sizeof(Case), by_day);
    return cases;
}

// Gaps in cases without an event, or in days; an event that comes with another has gap 0.
static GArray *gaps_of(const GArray *cases, bool in_days, GArray *points) {
    GArray *gaps = g_array_new(FALSE, FALSE, sizeof(double));
    long before = -1;
    for (guint i = 0; i < cases->len; i++) {
        const Case *c = &g_array_index(cases, Case, i);
        const uint32_t times = in_days ? c->events : c->events > 0;
        for (uint32_t e = 0; e < times; e++) {
            const Case *last = before < 0 ? NULL : &g_array_index(cases, Case, before);
            const double gap = !last     ? NAN
                               : in_days ? (double)(c->day - last->day)
                                         : (double)((long)i - before - 1);
            if (last) {
                const SeriesPoint point = {.day = c->day, .value = gap, .whole = true};
                g_array_append_val(gaps, gap);
                g_array_append_val(points, point);
            }
            before = (long)i;
        }
    }
    return gaps;
}

static StatsInterval limits_of(const GArray *gaps, bool in_days) {
    const double *values = (const double *)(const void *)gaps->data;
    if (!in_days)
        return control_g(values, gaps->len);
    const StatsInterval t = control_t(values, gaps->len);
    return (StatsInterval){control_t_back(t.estimate), control_t_back(t.lower),
                           control_t_back(t.upper)};
}

void rare_chart(const CountData *data, const Indicator *in, Series *s) {
    const bool in_days = s->measure == CHANGE_RATE;
    GArray *cases = cases_of(data, in, s->urgency);
    GArray *points = g_array_new(FALSE, FALSE, sizeof(SeriesPoint));
    GArray *gaps = gaps_of(cases, in_days, points);
    const double *values = (const double *)(const void *)gaps->data;
    const StatsInterval limits = limits_of(gaps, in_days);
    size_t at = 0;
    if (in_days) {
        const Case *first = &g_array_index(cases, Case, 0);
        const Case *last = &g_array_index(cases, Case, cases->len - 1);
        s->p_point =
            change_gap_time(values, gaps->len, last->day - first->day + 1, &at, &s->longer);
    } else {
        s->p_point = change_gap(values, gaps->len, cases->len, &at, &s->longer);
    }
    for (guint i = 0; i < points->len; i++) {
        SeriesPoint *p = &g_array_index(points, SeriesPoint, i);
        p->lower = limits.lower;
        p->upper = limits.upper;
        p->beyond = control_beyond(p->value, limits);
    }
    s->at = (guint)at;
    s->chart = in_days ? SERIES_T : SERIES_G;
    s->model.centre = limits.estimate;
    s->gaps = points;
    g_array_unref(cases);
    g_array_unref(gaps);
}
