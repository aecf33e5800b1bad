// SPDX-License-Identifier: GPL-3.0-or-later
// The bootstrap over weeks. What becomes of a week's requests depends on the weeks before only
// until all teams are back and nobody waits where they are so too when the week begins afresh; from
// there on it is known from one run over each week, and need not be run again in each replicate.
#include "replay/weeks.h"

#include "base/parallel.h"
#include "replay/fleet.h"
#include "replay/stream.h"
#include "stats/quantile.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { WEEK = 7 * WHEN_DAY };

// What becomes of the requests of each week when it begins with all teams back. Requests from the
// last clear state on may wait for what comes after the week.
typedef struct {
    uint8_t *clear;  // by request: the state is clear before it
    size_t *last;    // by week: the last such request, its begin if it has none
    Outcome *before; // by request: of those of its week before it
    int32_t *wait;   // of those reached, a week's from its first request's place on
} Afresh;

typedef struct {
    const Trial *trial;
    EngineRequest *request; // by the local clock since the first day 00:00, in order
    uint32_t *source;
    size_t *week; // where each whole week begins in them; one more than there are weeks
    GArray **shifts;
    Stream *stream; // one for each thread
    unsigned threads;
    double *value; // [replicate][scenario][measure]
    // the scenario that is being done
    EngineFleet fleet;
    Afresh afresh;
    double on_duty;
    size_t scenario;
    gint next; // replicate that is to be done next
} Bootstrap;

typedef struct {
    EngineRequest request;
    uint32_t source;
} Local;

static int by_local(const void *a, const void *b) {
    const Local *x = a, *y = b;
    if (x->request.at != y->request.at)
        return x->request.at < y->request.at ? -1 : 1;
    if (x->request.class != y->request.class)
        return x->request.class < y->request.class ? -1 : 1;
    return x->source < y->source ? -1 : x->source > y->source;
}

static void fill_local(Bootstrap *b) {
    const Demand *d = b->trial->demand;
    Local *local = g_new(Local, d->n + 1);
    for (size_t i = 0; i < d->n; i++) {
        local[i] = (Local){d->request[i], (uint32_t)i};
        local[i].request.at =
            when_to_local(b->trial->network->zone, d->request[i].at) - d->first_day * WHEN_DAY;
    }
    qsort(local, d->n, sizeof *local, by_local);
    b->request = g_new(EngineRequest, d->n + 1);
    b->source = g_new(uint32_t, d->n + 1);
    b->week = g_new0(size_t, b->trial->weeks + 1);
    size_t at = 0;
    for (unsigned w = 0; w <= b->trial->weeks; w++) {
        while (at < d->n && local[at].request.at < (int32_t)w * WEEK)
            at++;
        b->week[w] = at;
    }
    for (size_t i = 0; i < d->n; i++)
        b->request[i] = local[i].request, b->source[i] = local[i].source;
    g_free(local);
}

// The next number of a stream of 64 random bits: Steele, Lea & Flood 2014 (SplitMix64).
static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

// Each replicate has a stream of its own, so that it does not matter which thread does it.
static void draw_weeks(const Trial *r, unsigned replicate, unsigned *weeks) {
    uint64_t seed = r->settings.seed, state = next_random(&seed) + replicate;
    state = next_random(&state);
    const unsigned starts = r->weeks - r->block + 1;
    for (unsigned w = 0; w < r->weeks;) {
        const unsigned first = (unsigned)(next_random(&state) % starts);
        for (unsigned i = 0; i < r->block && w < r->weeks; i++)
            weeks[w++] = first + i;
    }
}

static size_t most_requests(const Bootstrap *b) {
    size_t most = 0;
    for (unsigned w = 0; w < b->trial->weeks; w++)
        most = MAX(most, b->week[w + 1] - b->week[w]);
    return most * b->trial->weeks;
}

// ---- each week by itself ----

static Afresh afresh_new(const Bootstrap *b) {
    const size_t n = b->week[b->trial->weeks];
    return (Afresh){g_new(uint8_t, n + 1), g_new(size_t, b->trial->weeks), g_new(Outcome, n + 1),
                    g_new(int32_t, n + 1)};
}

static void afresh_clear(Afresh *a) {
    g_free(a->clear);
    g_free(a->last);
    g_free(a->before);
    g_free(a->wait);
}

static void run_afresh(Bootstrap *b, unsigned week, Stream *s) {
    Afresh *a = &b->afresh;
    const size_t begin = b->week[week], n = b->week[week + 1] - begin;
    a->last[week] = begin;
    memset(a->clear + begin, 0, n);
    memcpy(s->request, b->request + begin, n * sizeof *s->request);
    memcpy(s->source, b->source + begin, n * sizeof *s->source);
    stream_reset(s);
    engine_begin(&b->fleet, s->work);
    for (size_t i = 0; i < n;) {
        a->clear[begin + i] = 1;
        a->before[begin + i] = s->sum;
        a->last[week] = begin + i;
        const size_t from = i;
        i = engine_run_on(&b->fleet, s->request, from, n, s->stop, s->work, s->answer);
        stream_count(s, &b->fleet, from, i);
    }
    memcpy(a->wait + begin, s->wait, s->waits * sizeof *s->wait);
}

// ---- replicates ----

// Lays weeks one after another; first[w]: where the w-th begins.
static void lay_weeks(const Bootstrap *b, const unsigned *weeks, Stream *s, size_t *first) {
    s->n = 0;
    for (unsigned w = 0; w < b->trial->weeks; w++) {
        const int32_t shift = ((int32_t)w - (int32_t)weeks[w]) * WEEK;
        const size_t from = b->week[weeks[w]], n = b->week[weeks[w] + 1] - from;
        first[w] = s->n;
        memcpy(s->request + s->n, b->request + from, n * sizeof *s->request);
        memcpy(s->source + s->n, b->source + from, n * sizeof *s->source);
        memcpy(s->stop + s->n, b->afresh.clear + from, n);
        for (size_t i = 0; i < n; i++)
            s->request[s->n + i].at += shift;
        s->n += n;
    }
    first[b->trial->weeks] = s->n;
}

// Runs the weeks, but for what is known of them.
static void run_weeks(const Bootstrap *b, const unsigned *weeks, Stream *s, const size_t *first) {
    const Afresh *a = &b->afresh;
    unsigned w = 0;
    stream_reset(s);
    engine_begin(&b->fleet, s->work);
    for (size_t i = 0;
         i < s->n;) { // the state is clear, and so it is there when its week begins afresh
        while (i >= first[w + 1])
            w++;
        const size_t begin = b->week[weeks[w]], at = begin + (i - first[w]),
                     last = a->last[weeks[w]];
        stream_add(s, &a->before[at], &a->before[last],
                   a->wait + begin + stream_reached(&a->before[at]));
        const size_t from = i + (last - at);
        i = engine_run_on(&b->fleet, s->request, from, s->n, s->stop, s->work, s->answer);
        stream_count(s, &b->fleet, from, i);
    }
}

static void do_replicates(unsigned thread, void *user) {
    Bootstrap *b = user;
    const Trial *r = b->trial;
    Stream *s = &b->stream[thread];
    unsigned *weeks = g_new0(unsigned, r->weeks + 1);
    size_t *first = g_new0(size_t, r->weeks + 1);
    for (gint i; (i = g_atomic_int_add(&b->next, 1)) < (gint)r->settings.replicates;) {
        double *value = b->value + ((size_t)i * r->scenarios->len + b->scenario) * TRIAL_MEASURES;
        draw_weeks(r, (unsigned)i, weeks);
        lay_weeks(b, weeks, s, first);
        run_weeks(b, weeks, s, first);
        stream_figures(s, r->weeks * 7.0, b->on_duty, value);
        value[TRIAL_ADDS] = b->fleet.teams == 0
                                ? NAN
                                : value[TRIAL_REACHED] - value[TRIAL_REACHED - TRIAL_MEASURES];
    }
    g_free(first);
    g_free(weeks);
}

// Scenario by scenario, so that what is known of each week needs room but for one.
static void run_scenarios(Bootstrap *b) {
    const Trial *r = b->trial;
    const unsigned counts = r->demand->teams + 1;
    b->afresh = afresh_new(b);
    for (b->scenario = 0; b->scenario < r->scenarios->len; b->scenario++) {
        const GArray *shifts = b->shifts[b->scenario / counts];
        const unsigned teams = (unsigned)(b->scenario % counts);
        b->fleet = fleet_make(r, teams, shifts);
        b->on_duty = fleet_minutes_on_duty(shifts, teams, 0, (int32_t)r->weeks * WEEK);
        memset(b->stream->stop, 1, most_requests(b));
        for (unsigned w = 0; w < r->weeks; w++)
            run_afresh(b, w, b->stream);
        b->next = 0;
        parallel_each(b->threads, (int)b->threads, do_replicates, b);
    }
    afresh_clear(&b->afresh);
}

static void set_limits(const Bootstrap *b) {
    const Trial *r = b->trial;
    const size_t cells = (size_t)r->scenarios->len * TRIAL_MEASURES;
    const double tail = (1 - r->settings.confidence) / 2;
    double *sorted = g_new(double, r->settings.replicates);
    for (size_t cell = 0; cell < cells; cell++) {
        size_t n = 0;
        for (size_t i = 0; i < r->settings.replicates; i++)
            if (!isnan(b->value[i * cells + cell]))
                sorted[n++] = b->value[i * cells + cell];
        StatsInterval *v = &g_array_index(r->scenarios, TrialScenario, cell / TRIAL_MEASURES)
                                .value[cell % TRIAL_MEASURES];
        if (n < r->settings.replicates || isnan(v->estimate))
            continue; // it can't always be estimated
        quantile_sort(sorted, n);
        v->lower = quantile_hf2(sorted, n, tail);
        v->upper = quantile_hf2(sorted, n, 1 - tail);
    }
    g_free(sorted);
}

void weeks_limits(Trial *r) {
    Bootstrap b = {.trial = r};
    fill_local(&b);
    b.shifts = fleet_shifts(r, NULL, r->demand->first_day + (int32_t)r->weeks * 7 - 1);
    b.value = g_new(double, (size_t)r->settings.replicates * r->scenarios->len * TRIAL_MEASURES);
    b.threads = r->settings.threads ? r->settings.threads : (unsigned)g_get_num_processors();
    b.stream = g_new(Stream, b.threads);
    for (unsigned i = 0; i < b.threads; i++)
        b.stream[i] = stream_new(r, most_requests(&b));
    run_scenarios(&b);
    set_limits(&b);
    for (unsigned i = 0; i < b.threads; i++)
        stream_clear(&b.stream[i]);
    g_free(b.stream);
    fleet_free_shifts(r, b.shifts);
    g_free(b.request);
    g_free(b.source);
    g_free(b.week);
    g_free(b.value);
}
