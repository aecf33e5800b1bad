// SPDX-License-Identifier: GPL-3.0-or-later
// Absences by unit and week.
#include "measure/overlapping.h"

#include "stats/overlap.h"

#include <math.h>

GArray *overlapping_weeks(const Network *network, int32_t from, int32_t to) {
    GArray *edges = g_array_new(FALSE, FALSE, sizeof(int64_t));
    int32_t day = when_day_of(when_to_local(network->zone, from));
    day -= when_weekday(day);
    for (int64_t edge = INT64_MIN; edge < to; day += 7) {
        int32_t utc = 0, second;
        if (when_to_utc(network->zone, day * WHEN_DAY, &utc, &second) == WHEN_SKIPPED)
            when_to_utc(network->zone, day * WHEN_DAY + 60, &utc, &second);
        edge = utc;
        g_array_append_val(edges, edge);
    }
    return edges;
}

StatsInterval overlapping_share(const Transfers *t, const Network *network,
                                const Indicator *indicator, const uint32_t *rows, size_t n_rows,
                                double confidence) {
    StatsInterval nothing = {NAN, NAN, NAN};
    if (n_rows == 0)
        return nothing;
    const uint16_t *unit = transfers_units(t, FIELD_sending_unit);
    int64_t *start = g_new(int64_t, n_rows), *end = g_new(int64_t, n_rows);
    int32_t from = INT32_MAX, to = INT32_MIN;
    for (size_t i = 0; i < n_rows; i++) {
        const int32_t starts = transfers_times(t, indicator->from)[rows[i]],
                      ends = transfers_times(t, indicator->to)[rows[i]];
        start[i] = starts, end[i] = ends;
        from = MIN(from, starts), to = MAX(to, ends);
    }
    GArray *edges = overlapping_weeks(network, from, to);
    const size_t weeks = edges->len > 0 ? edges->len - 1 : 0;
    double *one = g_new0(double, weeks + 1), *two = g_new0(double, weeks + 1);
    for (size_t first = 0; first < n_rows;) {
        size_t n = 1;
        while (first + n < n_rows && unit[rows[first + n]] == unit[rows[first]])
            n++;
        overlap_weeks(n, start + first, end + first, weeks, (const int64_t *)(void *)edges->data,
                      one, two);
        first += n;
    }
    const StatsInterval share = overlap_ratio(weeks, one, two, confidence);
    g_array_unref(edges);
    g_free(one);
    g_free(two);
    g_free(start);
    g_free(end);
    return share;
}
