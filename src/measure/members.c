// SPDX-License-Identifier: GPL-3.0-or-later
// Records of a cell.
#include "measure/members.h"

#include <math.h>

static bool belongs(const CountData *d, const MembersCell *cell, size_t row) {
    const int month = d->first + d->month[row];
    return month >= cell->first && month < cell->end &&
           (cell->unit == 0 || count_value(d->t, FIELD_sending_unit, row) == cell->unit) &&
           (cell->by == FIELD_COUNT || count_value(d->t, cell->by, row) == cell->group);
}

// Events of a mix: the record's own value, or its adverse events; *total of any part.
static uint32_t in_mix(const CountData *d, const Indicator *in, uint16_t part, size_t row,
                       double *total) {
    *total = 1;
    if (in->field != FIELD_events)
        return part == 0 || count_value(d->t, in->field, row) == part;
    size_t n;
    uint32_t events = 0;
    const Event *e = transfers_events_of(d->t, row, &n);
    *total = 0;
    for (size_t k = 0; k < n; k++) {
        const bool adverse = e[k].harm != CODE_harm_NEAR_MISS;
        *total += adverse;
        events += adverse && (part == 0 || e[k].category == part);
    }
    return events;
}

static Member member(const CountData *d, const Indicator *in, uint16_t part, size_t row,
                     const CountRecord *r) {
    Member m = {.row = (uint32_t)row, .unknown = r->state != COUNT_IN, .minutes = -1};
    if (m.unknown)
        return m;
    switch (in->measure) {
    case MEASURE_SHARE:
        m.events = r->events;
        m.total = 1;
        break;
    case MEASURE_RATE:
        m.events = r->events;
        m.total = in->exposure == EXPOSURE_HOURS   ? r->minutes / 60.0
                  : in->exposure == EXPOSURE_WEEKS ? 0
                                                   : r->exposure;
        m.minutes = in->exposure == EXPOSURE_HOURS ? r->minutes : -1;
        break;
    case MEASURE_QUANTILE:
        m.total = 1;
        m.minutes = r->minutes;
        break;
    case MEASURE_MIX:
        m.events = in_mix(d, in, part, row, &m.total);
        break;
    case MEASURE_COUNT:
        m.events = 1;
        break;
    case MEASURE_HOURS:
    case MEASURE_OVERLAP:
        m.events = 1;
        m.minutes = r->minutes;
        break;
    }
    return m;
}

GArray *members_of(const CountData *d, const Indicator *in, const MembersCell *cell) {
    GArray *members = g_array_new(FALSE, FALSE, sizeof(Member));
    CountRecord block[COUNT_BLOCK];
    for (size_t first = 0; first < d->t->n; first += COUNT_BLOCK) {
        const size_t n = MIN(d->t->n - first, COUNT_BLOCK);
        count_records(d, in, first, n, block);
        for (size_t i = 0; i < n; i++) {
            if (block[i].state == COUNT_OUT || !belongs(d, cell, first + i))
                continue;
            const Member m = member(d, in, cell->part, first + i, &block[i]);
            if (m.unknown || m.total > 0 || in->measure != MEASURE_MIX)
                g_array_append_val(members, m);
        }
    }
    return members;
}

MembersCount members_count(const CountData *d, const Indicator *in, const MembersCell *cell,
                           const GArray *members) {
    MembersCount c = {0, 0, 0};
    const bool hours = in->measure == MEASURE_RATE && in->exposure == EXPOSURE_HOURS;
    for (guint i = 0; i < members->len; i++) {
        const Member *m = &g_array_index(members, Member, i);
        c.unknown += m->unknown;
        c.events += m->events;
        c.total += m->unknown ? 0 : hours ? m->minutes : m->total;
    }
    if (hours)
        c.total /= 60; // whole minutes add up exactly
    if (in->measure == MEASURE_RATE && in->exposure == EXPOSURE_WEEKS)
        c.total = count_weeks(d, &(Period){.first = cell->first, .end = cell->end});
    if (in->measure == MEASURE_QUANTILE)
        c.events = NAN;
    if (in->measure == MEASURE_COUNT || in->measure == MEASURE_HOURS ||
        in->measure == MEASURE_OVERLAP)
        c.total = NAN;
    return c;
}
