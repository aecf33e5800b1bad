// SPDX-License-Identifier: GPL-3.0-or-later
// Gathering what units are judged by.
#include "measure/judged.h"

#include "measure/durations.h"

void judged_each(const CountData *data, const Indicator *in, JudgedEach each, void *user) {
    const Period *span = &g_array_index(data->periods, Period, 0);
    const uint16_t *sender = transfers_units(data->t, FIELD_sending_unit);
    CountRecord record[COUNT_BLOCK];
    uint8_t condition[COUNT_BLOCK];
    for (size_t first = 0; first < data->t->n; first += COUNT_BLOCK) {
        const size_t n = MIN((size_t)COUNT_BLOCK, data->t->n - first);
        count_records(data, in, first, n, record);
        condition_fill(in->judged, data->t, first, n, condition);
        for (size_t i = 0; i < n; i++) {
            const int month = data->first + data->month[first + i];
            record[i].state = count_narrowed(record[i].state, condition[i]);
            if (record[i].state != COUNT_OUT && month >= span->first && month < span->end)
                each(user, first + i, data->place[sender[first + i]], &record[i]);
        }
    }
}

static void take(Judged *j, const CountData *data, const Tally *tally, guint place) {
    const Period *span = &g_array_index(data->periods, Period, 0);
    const Indicator *in = j->indicator;
    const TallyCell cell = {place, span->first - data->first, span->end - data->first, -1, 0, true};
    const TallySums sums = tally_cell(tally, cell, NULL);
    JudgedUnit *unit = &j->unit[place];
    unit->known = sums.total;
    unit->unknown = sums.unknown;
    if (in->measure == MEASURE_QUANTILE)
        return;
    unit->events = sums.sum;
    unit->squares = sums.squares;
    unit->largest = sums.largest;
    unit->total = in->measure == MEASURE_SHARE     ? (double)sums.total
                  : in->exposure == EXPOSURE_HOURS ? sums.exposure / 60
                                                   : sums.exposure;
}

static void add_minutes(void *user, const DurationsCell *cell) {
    JudgedUnit *unit = &((const Judged *)user)->unit[cell->place];
    double *room;
    const Runs runs = durations_keep(cell->minutes, &room);
    g_ptr_array_add(unit->room, room);
    if (cell->by < 0) {
        unit->minutes = runs;
        return;
    }
    unit->within[cell->group] = runs;
    unit->unknown_within[cell->group] = cell->unknown;
}

static void gather_minutes(Judged *j, const CountData *data) {
    static const DurationsFace faces[] = {{false, -1, PERIOD_ALL, true},
                                          {true, -1, PERIOD_ALL, true},
                                          {false, DURATIONS_BY_URGENCY, PERIOD_ALL, true},
                                          {true, DURATIONS_BY_URGENCY, PERIOD_ALL, true}};
    j->strata = data->codes[FIELD_urgency]->len;
    for (guint u = 0; u < j->units; u++) {
        j->unit[u].room = g_ptr_array_new_with_free_func(g_free);
        j->unit[u].within = g_new0(Runs, j->strata + 1);
        j->unit[u].unknown_within = g_new0(uint64_t, j->strata + 1);
    }
    durations_deal(data, j->indicator, faces, G_N_ELEMENTS(faces), add_minutes, j);
}

Judged *judged_gather(const CountData *data, const Indicator *in, const Tally *tally) {
    Judged *j = g_new0(Judged, 1);
    j->indicator = in;
    j->units = data->units->len;
    j->unit = g_new0(JudgedUnit, j->units);
    for (guint u = 0; u < j->units; u++)
        take(j, data, tally, u);
    if (in->measure == MEASURE_QUANTILE)
        gather_minutes(j, data);
    return j;
}

void judged_free(Judged *j) {
    for (guint u = 0; u < j->units && j->unit[u].room; u++) {
        g_ptr_array_unref(j->unit[u].room);
        g_free(j->unit[u].within);
        g_free(j->unit[u].unknown_within);
    }
    g_free(j->unit);
    g_free(j);
}
