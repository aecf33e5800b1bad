// SPDX-License-Identifier: GPL-3.0-or-later
// Gathering what units are judged by.
#include "measure/judged.h"

#include "stats/quantile.h"

#include <string.h>

bool judged_is(const Indicator *in) {
    return *in->compare && (in->measure == MEASURE_SHARE || in->measure == MEASURE_QUANTILE ||
                            (in->measure == MEASURE_RATE && in->exposure != EXPOSURE_WEEKS));
}

// A record that the condition passes over is out; one of which it is not known counts as unknown.
static uint8_t narrowed(uint8_t state, uint8_t condition) {
    if (condition == CONDITION_FALSE)
        return COUNT_OUT;
    return condition == CONDITION_TRUE ? state : MIN(state, COUNT_UNKNOWN);
}

void judged_each(const CountData *data, const Indicator *in, JudgedEach each, void *user) {
    const Period *span = &g_array_index(data->periods, Period, 0);
    const uint16_t *sender = transfers_units(data->t, FIELD_sending_unit);
    Condition *judged = condition_parse(in->compare, NULL); // read once already with the catalogue
    CountRecord record[COUNT_BLOCK];
    uint8_t condition[COUNT_BLOCK];
    for (size_t first = 0; first < data->t->n; first += COUNT_BLOCK) {
        const size_t n = MIN((size_t)COUNT_BLOCK, data->t->n - first);
        count_records(data, in, first, n, record);
        condition_fill(judged, data->t, first, n, condition);
        for (size_t i = 0; i < n; i++) {
            const int month = data->first + data->month[first + i];
            record[i].state = narrowed(record[i].state, condition[i]);
            if (record[i].state != COUNT_OUT && month >= span->first && month < span->end)
                each(user, first + i, data->place[sender[first + i]], &record[i]);
        }
    }
    condition_free(judged);
}

typedef struct {
    Judged *judged;
    GArray **minutes; // double, by place; NULL unless durations
} Gathering;

static void add(void *user, size_t row, unsigned place, const CountRecord *r) {
    (void)row;
    const Gathering *g = user;
    JudgedUnit *unit = &g->judged->unit[place];
    if (r->state != COUNT_IN) {
        unit->unknown++;
        return;
    }
    unit->known++;
    if (g->minutes) {
        const double minutes = r->minutes;
        g_array_append_val(g->minutes[place], minutes);
        return;
    }
    const Indicator *in = g->judged->indicator;
    const double k = r->events;
    unit->events += k;
    unit->squares += k * k;
    unit->largest = MAX(unit->largest, k);
    unit->total += in->measure == MEASURE_SHARE     ? 1
                   : in->exposure == EXPOSURE_HOURS ? r->exposure / 60
                                                    : r->exposure;
}

static void add_up(Judged *j) {
    JudgedUnit *all = &j->unit[0];
    for (guint u = 1; u < j->units; u++) {
        const JudgedUnit *unit = &j->unit[u];
        all->events += unit->events;
        all->squares += unit->squares;
        all->largest = MAX(all->largest, unit->largest);
        all->total += unit->total;
        all->known += unit->known;
        all->unknown += unit->unknown;
        all->n += unit->n;
    }
    if (j->indicator->measure != MEASURE_QUANTILE)
        return;
    all->minutes = g_new(double, all->n + 1);
    size_t at = 0;
    for (guint u = 1; u < j->units; u++) {
        if (j->unit[u].n > 0)
            memcpy(all->minutes + at, j->unit[u].minutes, j->unit[u].n * sizeof(double));
        at += j->unit[u].n;
    }
    quantile_sort(all->minutes, all->n);
}

Judged *judged_gather(const CountData *data, const Indicator *in) {
    Judged *j = g_new0(Judged, 1);
    j->indicator = in;
    j->units = data->units->len;
    j->unit = g_new0(JudgedUnit, j->units);
    Gathering g = {j, NULL};
    if (in->measure == MEASURE_QUANTILE) {
        g.minutes = g_new(GArray *, j->units);
        for (guint u = 0; u < j->units; u++)
            g.minutes[u] = g_array_new(FALSE, FALSE, sizeof(double));
    }
    judged_each(data, in, add, &g);
    for (guint u = 0; g.minutes && u < j->units; u++) {
        j->unit[u].n = g.minutes[u]->len;
        j->unit[u].minutes = (double *)(void *)g_array_free(g.minutes[u], FALSE);
        quantile_sort(j->unit[u].minutes, j->unit[u].n);
        if (u == 0) {
            g_free(j->unit[0].minutes);
            j->unit[0].minutes = NULL;
        }
    }
    g_free(g.minutes);
    add_up(j);
    return j;
}

void judged_free(Judged *j) {
    for (guint u = 0; u < j->units; u++)
        g_free(j->unit[u].minutes);
    g_free(j->unit);
    g_free(j);
}
