// SPDX-License-Identifier: GPL-3.0-or-later
// Records -> contributions, a block of records at a time.
#include "measure/count.h"

#include <math.h>
#include <string.h>

static int by_name(gconstpointer a, gconstpointer b, gpointer t) {
    const GPtrArray *units = ((const Transfers *)t)->units;
    return strcmp(units->pdata[*(const uint16_t *)a], units->pdata[*(const uint16_t *)b]);
}

uint16_t count_value(const Transfers *t, FieldId f, size_t row) {
    if (!t->column[f])
        return 0;
    return field_table[f].kind == KIND_UNIT ? transfers_units(t, f)[row]
                                            : transfers_codes(t, f)[row];
}

// Values of a field that occur, in print order; unknown last.
static GArray *values_of(const Transfers *t, FieldId f) {
    GArray *list = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    uint8_t *seen = g_malloc0(MAX(t->units->len, 256));
    for (size_t i = 0; i < t->n; i++)
        seen[count_value(t, f, i)] = 1;
    const unsigned end = field_table[f].kind == KIND_UNIT ? t->units->len : 256;
    for (unsigned v = 1; v < end; v++)
        if (seen[v]) {
            const uint16_t value = (uint16_t)v;
            g_array_append_val(list, value);
        }
    if (field_table[f].kind == KIND_UNIT)
        g_array_sort_with_data(list, by_name, (gpointer)t);
    const uint16_t zero = 0;
    if (seen[0])
        g_array_append_val(list, zero);
    g_free(seen);
    return list;
}

static void add_codes(CountData *d, FieldId f) {
    if (d->codes[f])
        return;
    d->codes[f] = values_of(d->t, f);
    d->position[f] = g_new0(uint16_t, MAX(d->t->units->len, 256));
    for (guint c = 0; c < d->codes[f]->len; c++)
        d->position[f][g_array_index(d->codes[f], uint16_t, c)] = (uint16_t)c;
}

static void find_codes(CountData *d, const GPtrArray *catalogue) {
    for (guint k = 0; k < catalogue->len; k++) {
        const Indicator *in = catalogue->pdata[k];
        for (unsigned b = 0; b < in->n_by; b++)
            add_codes(d, in->by[b]);
        if (in->measure == MEASURE_MIX && in->field != FIELD_events)
            add_codes(d, in->field);
        if (in->measure == MEASURE_QUANTILE) // told within urgency
            add_codes(d, FIELD_urgency);
    }
}

static void find_units(CountData *d) {
    const uint16_t all = 0;
    d->units = values_of(d->t, FIELD_sending_unit);
    g_array_prepend_val(d->units, all);
    d->place = g_new0(uint16_t, d->t->units->len);
    for (guint u = 1; u < d->units->len; u++)
        d->place[g_array_index(d->units, uint16_t, u)] = (uint16_t)u;
}

// Which period of each kind a month belongs to.
static void find_slots(CountData *d) {
    for (int kind = PERIOD_ALL; kind <= PERIOD_MONTH; kind++) {
        d->slot[kind] = g_new(int16_t, d->months);
        for (int m = 0; m < d->months; m++)
            d->slot[kind][m] = -1;
    }
    for (guint p = 0; p < d->periods->len; p++) {
        const Period *period = &g_array_index(d->periods, Period, p);
        for (int m = MAX(period->first - d->first, 0); m < MIN(period->end - d->first, d->months);
             m++)
            d->slot[period->kind][m] = (int16_t)p;
    }
}

CountData *count_data_new(const Transfers *t, const Network *network, const GPtrArray *catalogue,
                          const CountSpan *span) {
    CountData *d = g_new0(CountData, 1);
    d->t = t;
    d->network = network;
    d->rooms = g_async_queue_new_full(g_free);
    int32_t low = INT32_MAX, high = INT32_MIN;
    for (size_t i = 0; i < t->n; i++) {
        const int32_t day = transfers_day(t, i, network);
        low = MIN(low, day), high = MAX(high, day);
    }
    d->first = t->n ? period_month(low) : span->first;
    d->months = t->n ? period_month(high) + 1 - d->first : 1;
    d->month = g_new(uint16_t, t->n + 1);
    uint16_t *of_day = t->n ? g_new(uint16_t, high - low + 1) : NULL;
    for (int32_t day = low; t->n && day <= high; day++)
        of_day[day - low] = (uint16_t)(period_month(day) - d->first);
    for (size_t i = 0; i < t->n; i++)
        d->month[i] = of_day[transfers_day(t, i, network) - low];
    g_free(of_day);
    d->low_day = span->given ? MIN(low, period_first_day(span->first)) : low;
    d->high_day = span->given ? period_first_day(span->end) - 1 : high;
    const int end = t->n ? d->first + d->months : d->first; // no record: no period but `all`
    d->periods = period_list(d->first, end, span->given ? span->first : d->first,
                             span->given ? span->end : end, network->year_starts);
    find_slots(d);
    find_units(d);
    find_codes(d, catalogue);
    return d;
}

void count_data_free(CountData *d) {
    for (int f = 0; f < FIELD_COUNT; f++) {
        if (d->codes[f])
            g_array_unref(d->codes[f]);
        g_free(d->position[f]);
    }
    for (int kind = 0; kind < 4; kind++)
        g_free(d->slot[kind]);
    g_async_queue_unref(d->rooms);
    g_array_unref(d->periods);
    g_array_unref(d->units);
    g_free(d->month);
    g_free(d->place);
    g_free(d);
}

GArray *count_parts(const CountData *d, const Indicator *in) {
    GArray *parts = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    const uint16_t zero = 0;
    if (in->measure != MEASURE_MIX) {
        g_array_append_val(parts, zero);
    } else if (field_table[in->field].kind == KIND_UNIT) {
        const GArray *units = d->codes[in->field];
        for (guint u = 0; u < units->len; u++)
            if (g_array_index(units, uint16_t, u) != 0)
                g_array_append_val(parts, g_array_index(units, uint16_t, u));
    } else {
        for (uint16_t c = 1; c <= field_table[in->field].codes->n; c++)
            g_array_append_val(parts, c);
    }
    return parts;
}

double count_weeks(const CountData *d, const Period *p) {
    const int32_t from = MAX(period_first_day(p->first), d->low_day);
    const int32_t to = MIN(period_first_day(p->end) - 1, d->high_day);
    return to < from ? 0 : (to - from + 1) / 7.0;
}

// ---- states ----

// A condition's value is the state of a record of which nothing else is asked.
G_STATIC_ASSERT((int)COUNT_OUT == CONDITION_FALSE && (int)COUNT_UNKNOWN == CONDITION_UNKNOWN &&
                (int)COUNT_IN == CONDITION_TRUE);

static uint8_t unknown_unless(bool known, uint8_t state) {
    return known ? state : MIN(state, COUNT_UNKNOWN);
}

static void share_states(const uint8_t *among, const uint8_t *events, size_t n, uint8_t *state) {
    static const uint8_t in[] = {COUNT_IN, COUNT_UNKNOWN, COUNT_EVENT}; // by events
    for (size_t i = 0; i < n; i++)
        state[i] = among[i] == CONDITION_TRUE ? in[events[i]] : among[i];
}

static void need_minutes(const CountData *d, const Indicator *in, size_t first, size_t n,
                         uint8_t *state) {
    const int32_t cap = network_cap(d->network, in->from, in->to);
    const int32_t *from = transfers_times(d->t, in->from) + first,
                  *to = transfers_times(d->t, in->to) + first;
    for (size_t i = 0; i < n; i++)
        state[i] = unknown_unless(transfers_between(from[i], to[i], cap) >= 0, state[i]);
}

static void need_rate(const CountData *d, const Indicator *in, size_t first, size_t n,
                      const uint8_t *events, uint8_t *state) {
    for (size_t i = 0; events && i < n; i++)
        state[i] = unknown_unless(events[i] != CONDITION_UNKNOWN, state[i]);
    const double *km = d->t->column[FIELD_distance_km];
    for (size_t i = 0; in->exposure == EXPOSURE_KM && i < n; i++)
        state[i] = unknown_unless(!isnan(km[first + i]), state[i]);
    if (in->exposure == EXPOSURE_HOURS)
        need_minutes(d, in, first, n, state);
}

static void need_field(const CountData *d, const Indicator *in, size_t first, size_t n,
                       uint8_t *state) {
    const uint32_t *list = d->t->column[FIELD_events];
    for (size_t i = 0; i < n; i++)
        state[i] =
            unknown_unless(in->field == FIELD_events ? list[first + i] != 0
                                                     : count_value(d->t, in->field, first + i) != 0,
                           state[i]);
}

void count_states(const CountData *d, const Indicator *in, size_t first, size_t n,
                  const uint8_t *among, const uint8_t *events, uint8_t *state) {
    if (in->measure == MEASURE_SHARE && events) {
        share_states(among, events, n, state);
        return;
    }
    memcpy(state, among, n);
    switch (in->measure) {
    case MEASURE_RATE:
        need_rate(d, in, first, n, events, state);
        break;
    case MEASURE_MIX:
        need_field(d, in, first, n, state);
        break;
    case MEASURE_QUANTILE:
    case MEASURE_HOURS:
    case MEASURE_OVERLAP:
        need_minutes(d, in, first, n, state);
        break;
    case MEASURE_SHARE:
    case MEASURE_COUNT:
        break;
    }
}

// ---- numbers ----

static bool has_minutes(const Indicator *in) {
    return in->measure == MEASURE_QUANTILE || in->measure == MEASURE_HOURS ||
           in->measure == MEASURE_OVERLAP ||
           (in->measure == MEASURE_RATE && in->exposure == EXPOSURE_HOURS);
}

static void add_minutes(const CountData *d, const Indicator *in, size_t first, size_t n,
                        CountRecord *out) {
    const int32_t cap = network_cap(d->network, in->from, in->to);
    const int32_t *from = transfers_times(d->t, in->from) + first,
                  *to = transfers_times(d->t, in->to) + first;
    for (size_t i = 0; i < n; i++)
        out[i].minutes = transfers_between(from[i], to[i], cap);
}

// Where the condition is true, its matching events if it names any, else one.
static void add_events(const CountData *d, const Indicator *in, size_t first, size_t n,
                       const uint8_t *events, CountRecord *out) {
    const bool many = in->events && condition_has_event(in->events);
    for (size_t i = 0; i < n; i++) {
        out[i].events = !events || events[i] == CONDITION_TRUE;
        if (many && out[i].events)
            out[i].events = condition_events(in->events, d->t, first + i);
    }
}

static void add_exposure(const CountData *d, const Indicator *in, size_t first, size_t n,
                         CountRecord *out) {
    const double *km = d->t->column[FIELD_distance_km];
    for (size_t i = 0; i < n; i++)
        out[i].exposure = in->exposure == EXPOSURE_HOURS ? out[i].minutes
                          : in->exposure == EXPOSURE_KM  ? km[first + i]
                                                         : 1;
}

void count_numbers(const CountData *d, const Indicator *in, size_t first, size_t n,
                   const uint8_t *events, const uint8_t *state, CountRecord *out) {
    for (size_t i = 0; i < n; i++)
        out[i] = (CountRecord){MIN(state[i], COUNT_IN), state[i] == COUNT_EVENT, 0, 0};
    if (has_minutes(in))
        add_minutes(d, in, first, n, out);
    if (in->measure != MEASURE_RATE)
        return;
    add_events(d, in, first, n, events, out);
    add_exposure(d, in, first, n, out);
}

void count_records(const CountData *d, const Indicator *in, size_t first, size_t n,
                   CountRecord *out) {
    uint8_t among[COUNT_BLOCK], events[COUNT_BLOCK], state[COUNT_BLOCK];
    const uint8_t *given = in->events ? events : NULL;
    condition_fill(in->among, d->t, first, n, among);
    if (given)
        condition_fill(in->events, d->t, first, n, events);
    count_states(d, in, first, n, among, given, state);
    count_numbers(d, in, first, n, given, state, out);
}
