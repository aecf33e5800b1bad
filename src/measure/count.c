// SPDX-License-Identifier: GPL-3.0-or-later
// Counting over the cohort. Records are kept in two orders, by month and by unit and month, so that
// a cell is one run of them.
#include "measure/count.h"

#include "measure/overlapping.h"
#include "stats/mix.h"
#include "stats/proportion.h"
#include "stats/quantile.h"
#include "stats/rate.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef enum { OUT, UNKNOWN, COUNTED } State;

struct CountData {
    const Transfers *t;
    const Network *network;
    GArray *periods, *units;
    GArray *codes[FIELD_COUNT];
    int first, months;         // months that records lie in
    int32_t low_day, high_day; // days that weeks are counted over
    uint32_t *order[2];        // rows by month, rows by unit and month
    size_t *start[2];          // where each month (each unit's month) starts
    uint8_t *state;            // of the indicator in hand, by row
    uint32_t *events;          // number of its events
    int32_t *minutes;          // its duration
    double *exposure;
};

static const char *unit_name(const Transfers *t, uint16_t unit) {
    return t->units->pdata[unit];
}

static int by_name(gconstpointer a, gconstpointer b, gpointer t) {
    return strcmp(unit_name(t, *(const uint16_t *)a), unit_name(t, *(const uint16_t *)b));
}

// Units that occur in a column, by byte order of their codes; 0 is not among them.
static GArray *units_in(const Transfers *t, FieldId field, bool *unknown) {
    GArray *list = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    uint8_t *seen = g_malloc0(t->units->len);
    const uint16_t *column = transfers_units(t, field);
    for (size_t i = 0; i < t->n; i++)
        seen[column[i]] = 1;
    *unknown = seen[0];
    for (guint u = 1; u < t->units->len; u++)
        if (seen[u]) {
            const uint16_t unit = (uint16_t)u;
            g_array_append_val(list, unit);
        }
    g_array_sort_with_data(list, by_name, (gpointer)t);
    g_free(seen);
    return list;
}

static void find_units(CountData *d) {
    bool unknown;
    const uint16_t all = 0;
    d->units = units_in(d->t, FIELD_sending_unit, &unknown);
    g_array_prepend_val(d->units, all);
}

// Orders rows by month within unit (or all as one unit) with a counting sort.
static void order_rows(CountData *d, int which, const int32_t *month, const uint16_t *unit,
                       size_t n_units) {
    const size_t cells = n_units * (size_t)d->months;
    size_t *start = d->start[which] = g_new0(size_t, cells + 1);
    d->order[which] = g_new(uint32_t, d->t->n + 1);
    for (size_t i = 0; i < d->t->n; i++)
        start[(unit ? unit[i] : 0) * (size_t)d->months + (size_t)month[i] + 1]++;
    for (size_t c = 0; c < cells; c++)
        start[c + 1] += start[c];
    size_t *at = g_memdup2(start, (cells + 1) * sizeof *at);
    for (size_t i = 0; i < d->t->n; i++)
        d->order[which][at[(unit ? unit[i] : 0) * (size_t)d->months + (size_t)month[i]]++] =
            (uint32_t)i;
    g_free(at);
}

CountData *count_data_new(const Transfers *t, const Network *network, const CountSpan *span) {
    CountData *d = g_new0(CountData, 1);
    d->t = t;
    d->network = network;
    int32_t *month = g_new(int32_t, t->n + 1);
    int32_t low = INT32_MAX, high = INT32_MIN;
    for (size_t i = 0; i < t->n; i++) {
        const int32_t day = transfers_day(t, i, network);
        low = MIN(low, day), high = MAX(high, day);
        month[i] = period_month(day);
    }
    d->first = t->n ? period_month(low) : span->first;
    d->months = t->n ? period_month(high) + 1 - d->first : 1;
    for (size_t i = 0; i < t->n; i++)
        month[i] -= d->first;
    d->low_day = span->given ? MIN(low, period_first_day(span->first)) : low;
    d->high_day = span->given ? period_first_day(span->end) - 1 : high;
    const int end = t->n ? d->first + d->months : d->first; // no record: no period but `all`
    d->periods = period_list(d->first, end, span->given ? span->first : d->first,
                             span->given ? span->end : end, network->year_starts);
    find_units(d);
    order_rows(d, 0, month, NULL, 1);
    order_rows(d, 1, month, transfers_units(t, FIELD_sending_unit), t->units->len);
    g_free(month);
    d->state = g_malloc(t->n + 1);
    d->events = g_new(uint32_t, t->n + 1);
    d->minutes = g_new(int32_t, t->n + 1);
    d->exposure = g_new(double, t->n + 1);
    return d;
}

void count_data_free(CountData *d) {
    for (int f = 0; f < FIELD_COUNT; f++)
        if (d->codes[f])
            g_array_unref(d->codes[f]);
    for (int w = 0; w < 2; w++) {
        g_free(d->order[w]);
        g_free(d->start[w]);
    }
    g_array_unref(d->periods);
    g_array_unref(d->units);
    g_free(d->state);
    g_free(d->events);
    g_free(d->minutes);
    g_free(d->exposure);
    g_free(d);
}

GArray *count_periods(CountData *d) {
    return d->periods;
}

GArray *count_units(CountData *d) {
    return d->units;
}

const GArray *count_codes(CountData *d, FieldId by) {
    if (d->codes[by])
        return d->codes[by];
    bool unknown = false;
    const uint16_t zero = 0;
    if (field_table[by].kind == KIND_UNIT) {
        d->codes[by] = units_in(d->t, by, &unknown);
    } else {
        bool seen[256] = {false};
        for (size_t i = 0; i < d->t->n; i++)
            seen[transfers_codes(d->t, by)[i]] = true;
        d->codes[by] = g_array_new(FALSE, FALSE, sizeof(uint16_t));
        for (uint16_t c = 1; c <= field_table[by].codes->n; c++)
            if (seen[c])
                g_array_append_val(d->codes[by], c);
        unknown = seen[0];
    }
    if (unknown)
        g_array_append_val(d->codes[by], zero);
    return d->codes[by];
}

// Code or unit of a record, 0 if unknown.
static uint16_t value_of(const Transfers *t, FieldId f, size_t i) {
    return field_table[f].kind == KIND_UNIT ? transfers_units(t, f)[i] : transfers_codes(t, f)[i];
}

GArray *count_parts(CountData *d, const Indicator *in) {
    GArray *parts = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    if (in->measure != MEASURE_MIX)
        return parts;
    if (field_table[in->field].kind == KIND_UNIT) {
        const GArray *units = count_codes(d, in->field);
        for (guint u = 0; u < units->len; u++)
            if (g_array_index(units, uint16_t, u) != 0)
                g_array_append_val(parts, g_array_index(units, uint16_t, u));
    } else {
        for (uint16_t c = 1; c <= field_table[in->field].codes->n; c++)
            g_array_append_val(parts, c);
    }
    return parts;
}

// Number of values that a mix is over.
static guint parts_of(const CountData *d, const Indicator *in) {
    if (field_table[in->field].kind != KIND_UNIT)
        return field_table[in->field].codes->n;
    const GArray *units = d->codes[in->field];
    return units->len - (units->len > 0 && g_array_index(units, uint16_t, units->len - 1) == 0);
}

static State prepare_share(const CountData *d, const Indicator *in, ConditionValue among,
                           size_t i) {
    const ConditionValue event = condition_value(in->events, d->t, i);
    d->events[i] = event == CONDITION_TRUE;
    return among == CONDITION_UNKNOWN || event == CONDITION_UNKNOWN ? UNKNOWN : COUNTED;
}

static State prepare_rate(const CountData *d, const Indicator *in, ConditionValue among, size_t i) {
    d->events[i] = 1;
    d->exposure[i] = 1;
    if (in->events) {
        const ConditionValue event = condition_value(in->events, d->t, i);
        if (event == CONDITION_UNKNOWN)
            return UNKNOWN;
        d->events[i] = event == CONDITION_FALSE          ? 0
                       : condition_has_event(in->events) ? condition_events(in->events, d->t, i)
                                                         : 1;
    }
    if (in->exposure == EXPOSURE_HOURS) {
        const int32_t m =
            transfers_minutes(d->t, i, in->from, in->to, network_cap(d->network, in->from, in->to));
        d->exposure[i] = m / 60.0;
        if (m < 0)
            return UNKNOWN;
    } else if (in->exposure == EXPOSURE_KM) {
        d->exposure[i] = ((const double *)d->t->column[FIELD_distance_km])[i];
        if (isnan(d->exposure[i]))
            return UNKNOWN;
    }
    return among == CONDITION_UNKNOWN ? UNKNOWN : COUNTED;
}

static State prepare(const CountData *d, const Indicator *in, size_t i) {
    const ConditionValue among = condition_value(in->among, d->t, i);
    if (among == CONDITION_FALSE)
        return OUT;
    switch (in->measure) {
    case MEASURE_SHARE:
        return prepare_share(d, in, among, i);
    case MEASURE_RATE:
        return prepare_rate(d, in, among, i);
    case MEASURE_MIX:
        if (in->field == FIELD_events ? ((const uint32_t *)d->t->column[FIELD_events])[i] == 0
                                      : value_of(d->t, in->field, i) == 0)
            return UNKNOWN;
        break;
    case MEASURE_QUANTILE:
    case MEASURE_HOURS:
    case MEASURE_OVERLAP:
        d->minutes[i] =
            transfers_minutes(d->t, i, in->from, in->to, network_cap(d->network, in->from, in->to));
        if (d->minutes[i] < 0)
            return UNKNOWN;
        break;
    case MEASURE_COUNT:
        break;
    }
    return among == CONDITION_UNKNOWN ? UNKNOWN : COUNTED;
}

void count_prepare(CountData *d, const Indicator *in) {
    for (size_t i = 0; i < d->t->n; i++)
        d->state[i] = (uint8_t)prepare(d, in, i);
}

static void add_mix(const CountData *d, const Indicator *in, CountCell *c, size_t i) {
    if (in->field != FIELD_events) {
        c->part[value_of(d->t, in->field, i)]++;
        c->total++;
        return;
    }
    size_t n;
    const Event *e = transfers_events_of(d->t, i, &n);
    for (size_t k = 0; k < n; k++)
        if (e[k].harm != CODE_harm_NEAR_MISS)
            c->part[e[k].category]++, c->total++;
}

static void add_number(CountCell *c, double k) {
    c->sum += k;
    c->squares += k * k;
    c->largest = MAX(c->largest, k);
}

static void add_record(const CountData *d, const Indicator *in, CountCell *c, uint32_t i) {
    if (d->state[i] != COUNTED) {
        c->unknown += d->state[i] == UNKNOWN;
        return;
    }
    switch (in->measure) {
    case MEASURE_MIX:
        add_mix(d, in, c, i);
        return;
    case MEASURE_RATE:
        add_number(c, d->events[i]);
        c->exposure += d->exposure[i];
        break;
    case MEASURE_SHARE:
        c->events += d->events[i];
        break;
    case MEASURE_HOURS:
        add_number(c, d->minutes[i] / 60.0);
        break;
    case MEASURE_QUANTILE:
        g_array_append_val(c->minutes, d->minutes[i]);
        break;
    case MEASURE_OVERLAP:
        g_array_append_val(c->rows, i);
        break;
    case MEASURE_COUNT:
        break;
    }
    c->total++;
}

static bool in_group(const CountData *d, const CountCell *c, uint32_t i) {
    if (c->by == FIELD_COUNT)
        return true;
    return c->group == value_of(d->t, c->by, i);
}

// Sorts durations, which are not negative, by three passes over 11 bits each.
static void sort_minutes(int32_t *value, size_t n) {
    enum { BITS = 11, BUCKETS = 1 << BITS };
    int32_t *other = g_new(int32_t, n + 1), *from = value, *to = other;
    for (int shift = 0; shift < 3 * BITS; shift += BITS) {
        size_t start[BUCKETS + 1] = {0};
        for (size_t i = 0; i < n; i++)
            start[((uint32_t)from[i] >> shift) % BUCKETS + 1]++;
        for (int b = 0; b < BUCKETS; b++)
            start[b + 1] += start[b];
        for (size_t i = 0; i < n; i++)
            to[start[((uint32_t)from[i] >> shift) % BUCKETS]++] = from[i];
        int32_t *swap = from;
        from = to;
        to = swap;
    }
    memcpy(value, other, n * sizeof *value); // three passes end in the other one
    g_free(other);
}

void count_cell(const CountData *d, const Indicator *in, CountCell *c) {
    const Period *p = &g_array_index(d->periods, Period, c->period);
    const int from = CLAMP(p->first - d->first, 0, d->months),
              to = CLAMP(p->end - d->first, 0, d->months);
    const int which = c->unit != 0;
    const size_t base = which ? c->unit * (size_t)d->months : 0;
    c->part = in->measure == MEASURE_MIX ? g_new0(uint64_t, d->t->units->len + 32) : NULL;
    c->minutes = g_array_new(FALSE, FALSE, sizeof(int32_t));
    c->rows = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    for (size_t k = d->start[which][base + (size_t)from]; k < d->start[which][base + (size_t)to];
         k++) {
        const uint32_t i = d->order[which][k];
        if (d->state[i] != OUT && in_group(d, c, i))
            add_record(d, in, c, i);
    }
    if (c->minutes->len > 1)
        sort_minutes((int32_t *)(void *)c->minutes->data, c->minutes->len);
}

void count_clear(CountCell *c) {
    g_free(c->part);
    g_array_unref(c->minutes);
    g_array_unref(c->rows);
}

static double weeks_of(const CountData *d, const Period *p) {
    const int32_t from = MAX(period_first_day(p->first), d->low_day);
    const int32_t to = MIN(period_first_day(p->end) - 1, d->high_day);
    return to < from ? 0 : (to - from + 1) / 7.0;
}

static void put(Estimate *row, StatsInterval i, double times) {
    row->estimate = i.estimate * times;
    row->lower = i.lower * times;
    row->upper = i.upper * times;
}

static void estimate_rate(const CountData *d, const Indicator *in, const CountCell *c,
                          Estimate *row, double confidence) {
    const Period *p = &g_array_index(d->periods, Period, c->period);
    row->events = c->sum;
    row->total = in->exposure == EXPOSURE_WEEKS ? weeks_of(d, p) : c->exposure;
    if (row->total > 0)
        put(row,
            in->events
                ? rate_fay_feuer(c->sum, c->squares, MAX(c->largest, 1), row->total, confidence)
                : rate_garwood(c->sum, row->total, confidence),
            in->per);
}

static void estimate_quantile(const CountCell *c, Estimate *row, double confidence) {
    static const double p[] = {0.25, 0.5, 0.75, 0.9};
    const guint n = c->minutes->len;
    row->total = n;
    double *sorted = g_new(double, n + 1);
    for (guint i = 0; i < n; i++)
        sorted[i] = g_array_index(c->minutes, int32_t, i);
    if (n > 0)
        put(row, quantile_interval(sorted, n, p[row->quantile], confidence), 1);
    g_free(sorted);
}

void count_estimate(const CountData *d, const Indicator *in, const CountCell *c, Estimate *row,
                    double confidence) {
    row->unknown = c->unknown;
    row->events = row->total = row->estimate = row->lower = row->upper = row->if_none =
        row->if_all = NAN;
    switch (in->measure) {
    case MEASURE_SHARE:
        row->events = (double)c->events;
        row->total = (double)c->total;
        put(row, proportion_wilson(row->events, row->total, confidence), 1);
        if (c->total + c->unknown > 0) {
            row->if_none = row->events / (row->total + (double)c->unknown);
            row->if_all = (row->events + (double)c->unknown) / (row->total + (double)c->unknown);
        }
        break;
    case MEASURE_COUNT:
        row->events = (double)c->total;
        put(row, rate_garwood(row->events, 1, confidence), 1);
        break;
    case MEASURE_RATE:
        estimate_rate(d, in, c, row, confidence);
        break;
    case MEASURE_HOURS:
        row->events = (double)c->total;
        put(row, rate_fay_feuer(c->sum, c->squares, c->largest, 1, confidence), 1);
        break;
    case MEASURE_MIX:
        row->events = (double)c->part[row->part];
        row->total = (double)c->total;
        put(row, mix_goodman(row->events, row->total, (int)parts_of(d, in), confidence), 1);
        break;
    case MEASURE_QUANTILE:
        estimate_quantile(c, row, confidence);
        break;
    case MEASURE_OVERLAP:
        row->events = (double)c->total;
        put(row, overlapping_share(d->t, d->network, in, c->rows, confidence), 1);
        break;
    }
}
