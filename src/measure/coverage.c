// SPDX-License-Identifier: GPL-3.0-or-later
// Runs of days without records in each unit's own log.
#include "measure/coverage.h"

#include "cohort/received.h"
#include "cohort/repeats.h"

typedef struct {
    int32_t from, to; // days, half-open
} Run;

typedef struct {
    int32_t first, last;  // days of the first and the last record; first > last: none
    double records, sent; // in this log; that the unit sent, in any log
    double longest;       // run of days that chance makes
    GArray *holes;        // of Run: longer ones between first and last
} Log;

struct Coverage {
    const CountData *data;
    int32_t low, high; // days of all records
    Log *log;          // by place; 0: all logs together
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

static void clear_log(Coverage *c, unsigned place) {
    Log *log = &c->log[place];
    log->first = INT32_MAX;
    log->last = INT32_MIN;
    log->records = 0;
}

static void add_records(Coverage *c) {
    const Transfers *t = c->data->t;
    const uint16_t *sender = transfers_units(t, FIELD_sending_unit);
    for (size_t i = 0; i < t->n; i++) {
        const int32_t day = transfers_day(t, i, c->data->network);
        const unsigned place = c->data->place[sender[i]];
        c->log[place].sent++;
        add_day(c, 0, day);
        if (repeats_keeper(t, i) == sender[i])
            add_day(c, place, day);
    }
}

// Gives units without a log of their own what others' logs say that they sent.
static void lend_records(Coverage *c) {
    const Transfers *t = c->data->t;
    const uint16_t *sender = transfers_units(t, FIELD_sending_unit);
    uint8_t *lend = g_malloc0(c->data->units->len);
    bool any = false;
    for (guint u = 1; u < c->data->units->len; u++)
        if (c->log[u].first >= c->log[u].last) {
            lend[u] = any = true;
            clear_log(c, u);
        }
    for (size_t i = 0; i < t->n && any; i++)
        if (lend[c->data->place[sender[i]]])
            add_day(c, c->data->place[sender[i]], transfers_day(t, i, c->data->network));
    g_free(lend);
}

static void find_holes(const Coverage *c, unsigned place) {
    Log *of = &c->log[place];
    of->holes = g_array_new(FALSE, FALSE, sizeof(Run));
    if (of->first >= of->last)
        return;
    of->longest = received_longest(of->records, of->records / (of->last - of->first + 1));
    int32_t since = of->first;
    for (int32_t day = of->first + 1; day <= of->last; day++)
        if (c->day[place * c->days + (size_t)(day - c->low)]) {
            const Run run = {since + 1, day};
            if (run.to - run.from > of->longest)
                g_array_append_val(of->holes, run);
            since = day;
        }
}

Coverage *coverage_new(const CountData *data) {
    Coverage *c = g_new0(Coverage, 1);
    *c = (Coverage){.data = data, .low = INT32_MAX, .high = INT32_MIN};
    for (size_t i = 0; i < data->t->n; i++) {
        const int32_t day = transfers_day(data->t, i, data->network);
        c->low = MIN(c->low, day);
        c->high = MAX(c->high, day);
    }
    c->days = data->t->n ? (size_t)(c->high - c->low) + 1 : 1;
    c->log = g_new0(Log, data->units->len);
    c->day = g_malloc0(data->units->len * c->days);
    for (guint u = 0; u < data->units->len; u++)
        clear_log(c, u);
    add_records(c);
    lend_records(c);
    for (guint u = 0; u < data->units->len; u++)
        find_holes(c, u);
    return c;
}

void coverage_free(Coverage *c) {
    if (!c)
        return;
    for (guint u = 0; u < c->data->units->len; u++)
        g_array_unref(c->log[u].holes);
    g_free(c->log);
    g_free(c->day);
    g_free(c);
}

static int32_t shared_days(Run run, int32_t first, int32_t end) {
    return MAX(0, MIN(run.to, end) - MAX(run.from, first));
}

// Share of the period's days that a log of two days or more lacks.
static double missing(const Coverage *c, const Log *log, const Period *period) {
    const int32_t first = period_first_day(period->first), end = period_first_day(period->end);
    const Run before = {MIN(first, c->low), log->first};
    const Run after = {log->last + 1, MAX(end, c->high + 1)};
    int32_t days = 0;
    if (before.to - before.from > log->longest)
        days += shared_days(before, first, end);
    if (after.to - after.from > log->longest)
        days += shared_days(after, first, end);
    for (guint i = 0; i < log->holes->len; i++)
        days += shared_days(g_array_index(log->holes, Run, i), first, end);
    return (double)days / (end - first);
}

static bool covers(const Coverage *c, unsigned place, const Period *period) {
    const Log *log = &c->log[place];
    return log->first < log->last && missing(c, log, period) * COVERAGE_DAYS < 1;
}

bool coverage_together(const Coverage *c, const Period *period) {
    return covers(c, 0, period);
}

bool coverage_whole(const Coverage *c, unsigned place, const Period *period) {
    if (place > 0 || !covers(c, 0, period))
        return covers(c, place, period);
    double lacking = 0;
    for (guint u = 1; u < c->data->units->len; u++)
        if (c->log[u].first < c->log[u].last)
            lacking += c->log[u].sent * missing(c, &c->log[u], period);
    return lacking * COVERAGE_RECORDS < c->log[0].records;
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
