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
    unit->minutes = durations_keep(cell->minutes, &unit->room);
}

Judged *judged_gather(const CountData *data, const Indicator *in, const Tally *tally) {
    static const DurationsFace faces[] = {{false, -1, PERIOD_ALL, true},
                                          {true, -1, PERIOD_ALL, true}};
    Judged *j = g_new0(Judged, 1);
    j->indicator = in;
    j->units = data->units->len;
    j->unit = g_new0(JudgedUnit, j->units);
    for (guint u = 0; u < j->units; u++)
        take(j, data, tally, u);
    if (in->measure == MEASURE_QUANTILE)
        durations_deal(data, in, faces, G_N_ELEMENTS(faces), add_minutes, j);
    return j;
}

void judged_free(Judged *j) {
    for (guint u = 0; u < j->units; u++)
        g_free(j->unit[u].room);
    g_free(j->unit);
    g_free(j);
}
