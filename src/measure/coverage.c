// SPDX-License-Identifier: GPL-3.0-or-later
// Runs of days without records.
#include "measure/coverage.h"

#include <math.h>

typedef struct {
    int32_t first, last;     // days of the first and the last record; first > last: none
    double records, longest; // longest run of days that chance makes
} Log;

struct Coverage {
    const CountData *data;
    int32_t low, high; // days of all records
    Log *log;          // by place
    uint8_t *day;      // [place * days + day - low]: whether there is a record
    size_t days;
};

static void add_day(Coverage *c, unsigned place, int32_t day) {
    Log *log = &c->log[place];
    c->day[place * c->days + (size_t)(day - c->low)] = 1;
    log->records++;
    log->first = MIN(log->first, day);
    log->last = MAX(log->last, day);
}

Coverage *coverage_new(const CountData *data) {
    Coverage *c = g_new0(Coverage, 1);
    const Transfers *t = data->t;
    const uint16_t *sender = transfers_units(t, FIELD_sending_unit);
    *c = (Coverage){.data = data, .low = INT32_MAX, .high = INT32_MIN};
    for (size_t i = 0; i < t->n; i++) {
        const int32_t day = transfers_day(t, i, data->network);
        c->low = MIN(c->low, day);
        c->high = MAX(c->high, day);
    }
    c->days = t->n ? (size_t)(c->high - c->low) + 1 : 1;
    c->log = g_new0(Log, data->units->len);
    c->day = g_malloc0(data->units->len * c->days);
    for (guint u = 0; u < data->units->len; u++)
        c->log[u].first = INT32_MAX, c->log[u].last = INT32_MIN;
    for (size_t i = 0; i < t->n; i++) {
        const int32_t day = transfers_day(t, i, data->network);
        add_day(c, 0, day);
        add_day(c, data->place[sender[i]], day);
    }
    for (guint u = 0; u < data->units->len; u++) {
        Log *of = &c->log[u];
        if (of->first < of->last)
            of->longest = log(100 * of->records) * (of->last - of->first + 1) / of->records;
    }
    return c;
}

void coverage_free(Coverage *c) {
    g_free(c->log);
    g_free(c->day);
    g_free(c);
}

// Whether a run of empty days [from, to) is too long and overlaps the period.
static bool hole(const Log *log, int32_t from, int32_t to, int32_t first, int32_t end) {
    return to - from > log->longest && from < end && to > first;
}

bool coverage_whole(const Coverage *c, unsigned place, const Period *period) {
    const Log *log = &c->log[place];
    const int32_t first = period_first_day(period->first), end = period_first_day(period->end);
    if (log->first >= log->last)
        return false;
    if (hole(log, MIN(first, c->low), log->first, first, end) ||
        hole(log, log->last + 1, MAX(end, c->high + 1), first, end))
        return false;
    int32_t since = log->first;
    for (int32_t day = log->first; day <= log->last && since < end; day++)
        if (c->day[place * c->days + (size_t)(day - c->low)]) {
            if (hole(log, since + 1, day, first, end))
                return false;
            since = day;
        }
    return true;
}

bool coverage_every_month(const Coverage *c, unsigned place, const GArray *months) {
    for (guint m = 0; m < months->len; m++) {
        const Period *p = &g_array_index(c->data->periods, Period, g_array_index(months, guint, m));
        bool any = false;
        for (int32_t day = MAX(period_first_day(p->first), c->low);
             day < period_first_day(p->end) && day <= c->high && !any; day++)
            any = c->day[place * c->days + (size_t)(day - c->low)];
        if (!any)
            return false;
    }
    return true;
}
