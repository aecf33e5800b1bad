// SPDX-License-Identifier: GPL-3.0-or-later
// Counts -> estimates. The rows of an indicator have fixed places (summary.csv's order), so sums
// and lists fill them in whatever order suits counting; indicators are shared out over threads.
#include "measure/estimate.h"

#include "base/parallel.h"
#include "measure/durations.h"
#include "measure/overlapping.h"
#include "stats/mix.h"
#include "stats/proportion.h"
#include "stats/quantile.h"
#include "stats/rate.h"

#include <math.h>
#include <string.h>

enum { QUANTILES = 4 };
static const double quantile_of[QUANTILES] = {0.25, 0.5, 0.75, 0.9};

// One indicator at work.
typedef struct {
    const CountData *data;
    const Indicator *in;
    const Tally *tally;
    uint16_t index;
    double confidence;
    GArray *parts;                      // uint16_t
    unsigned lines;                     // rows of a cell: its parts, or its quantiles
    unsigned groups[CATALOGUE_MOST_BY]; // codes of each breakdown
    unsigned all_groups;
    unsigned periods, long_periods; // all of them; those that are not months
    Estimate *rows;
    size_t n;
    GHashTable *ranks; // size of a sample -> Ranks
} Work;

// The ranks of each quantile of so large a sample.
typedef struct {
    gint size;
    QuantileRanks of[QUANTILES];
} Ranks;

// Where the rows of a cell begin. by = -1: no breakdown.
static size_t place_of(const Work *w, unsigned place, unsigned period, int by, unsigned group) {
    const size_t with_groups = (size_t)w->lines * (1 + w->all_groups);
    size_t at;
    if (place == 0)
        at = period * with_groups;
    else
        at = w->periods * with_groups +
             (place - 1) * (with_groups + (w->long_periods - 1) * (size_t)w->lines) +
             (period == 0 ? 0 : with_groups + (period - 1) * (size_t)w->lines);
    if (by < 0)
        return at;
    for (int b = 0; b < by; b++)
        group += w->groups[b];
    return at + w->lines * (size_t)(1 + group);
}

static void put(Estimate *row, StatsInterval i, double times) {
    row->estimate = i.estimate * times;
    row->lower = i.lower * times;
    row->upper = i.upper * times;
}

static void estimate_share(const Work *w, const TallySums *s, Estimate *row) {
    const double unknown = (double)s->unknown;
    row->events = s->sum;
    row->total = (double)s->total;
    put(row, proportion_wilson(row->events, row->total, w->confidence), 1);
    if (s->total + s->unknown > 0) {
        row->if_none = row->events / (row->total + unknown);
        row->if_all = (row->events + unknown) / (row->total + unknown);
    }
}

static void estimate_rate(const Work *w, const TallySums *s, const Period *p, Estimate *row) {
    row->events = s->sum;
    if (w->in->exposure != EXPOSURE_WEEKS)
        row->records = (double)s->total;
    row->total = w->in->exposure == EXPOSURE_WEEKS   ? count_weeks(w->data, p)
                 : w->in->exposure == EXPOSURE_HOURS ? s->exposure / 60
                                                     : s->exposure;
    if (row->total > 0)
        put(row,
            w->in->events
                ? rate_fay_feuer(s->sum, s->squares, MAX(s->largest, 1), row->total, w->confidence)
                : rate_garwood(s->sum, row->total, w->confidence),
            w->in->per);
}

static void estimate_row(const Work *w, const TallySums *s, const uint64_t *part, Estimate *row) {
    const Period *p = &g_array_index(w->data->periods, Period, row->period);
    switch (w->in->measure) {
    case MEASURE_SHARE:
        estimate_share(w, s, row);
        break;
    case MEASURE_RATE:
        estimate_rate(w, s, p, row);
        break;
    case MEASURE_COUNT:
        row->events = (double)s->total;
        put(row, rate_garwood(row->events, 1, w->confidence), 1);
        break;
    case MEASURE_HOURS:
        row->events = (double)s->total;
        put(row, rate_fay_feuer(s->sum / 60, s->squares / 3600, s->largest / 60, 1, w->confidence),
            1);
        break;
    case MEASURE_MIX:
        row->events = (double)part[row->part];
        row->total = (double)s->total;
        put(row, mix_goodman(row->events, row->total, (int)w->parts->len, w->confidence), 1);
        break;
    case MEASURE_QUANTILE:
        row->total = (double)s->total;
        break;
    case MEASURE_OVERLAP:
        row->events = (double)s->total;
        break;
    }
}

// Fills the rows of one cell as far as sums go.
static void fill_cell(const Work *w, unsigned place, unsigned period, int by, unsigned group,
                      uint64_t *part) {
    const Period *p = &g_array_index(w->data->periods, Period, period);
    const TallyCell cell = {place, p->first - w->data->first, p->end - w->data->first, by, group,
                            false};
    const TallySums sums = tally_cell(w->tally, cell, part);
    Estimate *row = w->rows + place_of(w, place, period, by, group);
    const FieldId field = by < 0 ? FIELD_COUNT : w->in->by[by];
    for (unsigned k = 0; k < w->lines; k++) {
        const bool quantile = w->in->measure == MEASURE_QUANTILE;
        row[k] = (Estimate){
            .indicator = w->index,
            .quantile = quantile ? (uint8_t)k : 0,
            .part = quantile ? 0 : g_array_index(w->parts, uint16_t, k),
            .unit = g_array_index(w->data->units, uint16_t, place),
            .period = (uint16_t)period,
            .by = field,
            .group = by < 0 ? 0 : g_array_index(w->data->codes[field], uint16_t, group),
            .unknown = sums.unknown,
            .events = NAN,
            .total = NAN,
            .records = NAN,
            .estimate = NAN,
            .lower = NAN,
            .upper = NAN,
            .if_none = NAN,
            .if_all = NAN,
        };
        estimate_row(w, &sums, part, &row[k]);
    }
}

static void fill_sums(const Work *w) {
    uint64_t *part = g_new0(uint64_t, tally_values(w->tally) + 1);
    for (unsigned place = 0; place < w->data->units->len; place++)
        for (unsigned p = 0; p < (place == 0 ? w->periods : w->long_periods); p++) {
            fill_cell(w, place, p, -1, 0, part);
            for (unsigned b = 0; (place == 0 || p == 0) && b < w->in->n_by; b++)
                for (unsigned g = 0; g < w->groups[b]; g++)
                    fill_cell(w, place, p, (int)b, g, part);
        }
    g_free(part);
}

// The ranks of a cell, those of each quantile together. Looked up, since many cells have as many
// durations as some other.
static void ask_ranks(void *user, size_t n, size_t rank[DURATIONS_RANKS]) {
    const Work *w = user;
    const gint size = (gint)n;
    Ranks *ranks = g_hash_table_lookup(w->ranks, &size);
    if (!ranks) {
        ranks = g_new(Ranks, 1);
        ranks->size = size;
        for (unsigned q = 0; q < QUANTILES; q++)
            ranks->of[q] = quantile_all_ranks(n, quantile_of[q], w->confidence);
        g_hash_table_insert(w->ranks, &ranks->size, ranks);
    }
    for (unsigned q = 0; q < QUANTILES; q++) {
        const QuantileRanks *of = &ranks->of[q];
        const size_t own[] = {of->low, of->high, of->lower, of->upper};
        memcpy(rank + q * G_N_ELEMENTS(own), own, sizeof own);
    }
}

static void put_quantiles(void *user, const DurationsCell *c,
                          const uint32_t minutes[DURATIONS_RANKS]) {
    const Work *w = user;
    Estimate *row = w->rows + place_of(w, c->place, c->period, c->by, c->group);
    size_t rank[DURATIONS_RANKS];
    if (c->n == 0)
        return;
    ask_ranks(user, c->n, rank);
    for (unsigned q = 0; q < QUANTILES; q++) {
        const unsigned low = 4 * q, high = low + 1, lower = low + 2, upper = low + 3;
        row[q].estimate = ((double)minutes[low] + (double)minutes[high]) / 2;
        row[q].lower = rank[lower] > 0 ? (double)minutes[lower] : NAN;
        row[q].upper = rank[upper] > 0 ? (double)minutes[upper] : NAN;
    }
}

static void put_overlap(void *user, const DurationsCell *c) {
    const Work *w = user;
    put(&w->rows[place_of(w, c->place, c->period, c->by, c->group)],
        overlapping_share(w->data->t, w->data->network, w->in, c->rows, c->n, w->confidence), 1);
}

static void fill_durations(Work *w) {
    w->ranks = g_hash_table_new_full(g_int_hash, g_int_equal, NULL, g_free);
    const DurationsAsked asked = {ask_ranks, put_quantiles, w};
    if (w->in->measure == MEASURE_QUANTILE)
        durations_at(w->data, w->in, &asked);
    else if (w->in->measure == MEASURE_OVERLAP)
        durations_each(w->data, w->in, put_overlap, w);
    g_hash_table_unref(w->ranks);
}

static void estimate_indicator(Work *w) {
    w->parts = count_parts(w->data, w->in);
    w->lines = w->in->measure == MEASURE_QUANTILE ? QUANTILES : w->parts->len;
    for (unsigned b = 0; b < w->in->n_by; b++) {
        w->groups[b] = w->data->codes[w->in->by[b]]->len;
        w->all_groups += w->groups[b];
    }
    w->periods = w->data->periods->len;
    while (w->long_periods < w->periods &&
           g_array_index(w->data->periods, Period, w->long_periods).kind != PERIOD_MONTH)
        w->long_periods++;
    w->n = place_of(w, w->data->units->len, 0, -1, 0);
    w->rows = g_new(Estimate, w->n + 1);
    fill_sums(w);
    fill_durations(w);
    g_array_unref(w->parts);
}

typedef struct {
    Work *work;
    unsigned n;
} Works;

// The last ones first: among them are the longest, which would keep one thread busy at the end.
static void estimate_one(unsigned i, void *works) {
    const Works *w = works;
    estimate_indicator(&w->work[w->n - 1 - i]);
}

Estimates *estimate_counted(const Counted *c, const EstimateSettings *settings) {
    const GPtrArray *catalogue = c->catalogue;
    Work *work = g_new0(Work, catalogue->len + 1);
    for (guint i = 0; i < catalogue->len; i++)
        work[i] = (Work){.data = c->data,
                         .in = catalogue->pdata[i],
                         .tally = c->tally[i],
                         .index = (uint16_t)i,
                         .confidence = settings->confidence};
    parallel_each(catalogue->len, settings->threads, estimate_one, &(Works){work, catalogue->len});
    durations_give_back(c->data);
    Estimates *e = g_new0(Estimates, 1);
    *e = (Estimates){.catalogue = catalogue,
                     .t = c->data->t,
                     .periods = g_array_ref(c->data->periods),
                     .units = g_array_ref(c->data->units),
                     .rows = g_array_new(FALSE, FALSE, sizeof(Estimate)),
                     .confidence = settings->confidence,
                     .threads = settings->threads};
    for (guint i = 0; i < catalogue->len; i++) {
        g_array_append_vals(e->rows, work[i].rows, (guint)work[i].n);
        g_free(work[i].rows);
    }
    g_free(work);
    return e;
}

Estimates *estimate_all(const Transfers *t, const Network *network, const GPtrArray *catalogue,
                        const EstimateSettings *settings) {
    const CountSpan span = {settings->has_span, settings->span_first, settings->span_end};
    Counted *counted = counted_new(t, network, catalogue, &span, settings->threads);
    Estimates *e = estimate_counted(counted, settings);
    counted_free(counted);
    return e;
}

void estimate_free(Estimates *e) {
    if (!e)
        return;
    g_array_unref(e->periods);
    g_array_unref(e->units);
    g_array_unref(e->rows);
    g_free(e);
}

const char *estimate_measure(const Estimates *e, const Estimate *row) {
    static const char *const names[] = {"share", "rate", NULL, "mix", "count", "hours", "overlap"};
    static const char *const quantiles[] = {"p25", "median", "p75", "p90"};
    const Indicator *i = e->catalogue->pdata[row->indicator];
    return i->measure == MEASURE_QUANTILE ? quantiles[row->quantile] : names[i->measure];
}

const char *estimate_method(const Estimates *e, const Estimate *row) {
    const Indicator *i = e->catalogue->pdata[row->indicator];
    if (row->suppressed)
        return "suppressed";
    switch (i->measure) {
    case MEASURE_SHARE:
        return "wilson";
    case MEASURE_RATE:
        return i->events ? "fay-feuer" : "exact-poisson";
    case MEASURE_HOURS:
        return "fay-feuer";
    case MEASURE_COUNT:
        return "exact-poisson";
    case MEASURE_QUANTILE:
        return "order-statistic";
    case MEASURE_MIX:
        return "goodman";
    case MEASURE_OVERLAP:
        return "block-linearised";
    }
    return "";
}

static const char *code_of(const Estimates *e, FieldId f, uint16_t value) {
    if (value == 0)
        return "unknown";
    return field_table[f].kind == KIND_UNIT ? e->t->units->pdata[value]
                                            : field_code_text(field_table[f].codes, value);
}

char *estimate_group(const Estimates *e, const Estimate *row) {
    const Indicator *i = e->catalogue->pdata[row->indicator];
    GString *text = g_string_new(NULL);
    if (row->by < FIELD_COUNT)
        g_string_append_printf(text, "%s=%s", field_table[row->by].name,
                               code_of(e, row->by, row->group));
    if (row->part)
        g_string_append_printf(text, "%s%s=%s", text->len ? " & " : "",
                               i->field == FIELD_events ? "event" : field_table[i->field].name,
                               code_of(e, i->field, row->part));
    if (text->len == 0)
        g_string_append(text, "all");
    return g_string_free(text, FALSE);
}
