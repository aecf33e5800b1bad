// SPDX-License-Identifier: GPL-3.0-or-later
// The bootstrap over weeks. What becomes of the requests of weeks running depends on what was
// before them only until all teams are back and nobody waits where they are so too in the run over
// all weeks as they were; from there on it is known from that, and is not run again in each
// replicate.
#include "replay/weeks.h"

#include "base/parallel.h"
#include "replay/fleet.h"
#include "replay/stream.h"
#include "stats/quantile.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { WEEK = 7 * WHEN_DAY };

// What becomes of the requests when all weeks come as they were.
typedef struct {
    uint8_t *clear;  // by request: the state is clear before it
    size_t *last;    // by week: the last such request before its end
    Outcome *before; // by request before which the state is clear: of all requests before it
    WaitsList waits; // of those reached, in order
} Course;

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
    Course course;
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

// ---- the weeks as they were ----

static Course course_new(const Bootstrap *b) {
    const size_t n = b->week[b->trial->weeks];
    return (Course){g_new(uint8_t, n + 1), g_new(size_t, b->trial->weeks), g_new(Outcome, n + 1),
                    waits_new_list(n)};
}

static void course_clear(Course *c) {
    g_free(c->clear);
    g_free(c->last);
    g_free(c->before);
    waits_free_list(&c->waits);
}

static void run_course(Bootstrap *b, Stream *s) {
    Course *c = &b->course;
    const size_t n = b->week[b->trial->weeks];
    memcpy(s->request, b->request, n * sizeof *s->request);
    memcpy(s->source, b->source, n * sizeof *s->source);
    memset(s->stop, 1, n);
    memset(c->clear, 0, n);
    stream_reset(s, NULL);
    engine_begin(&b->fleet, s->work);
    for (size_t i = 0; i < n;) {
        c->clear[i] = 1;
        c->before[i] = s->sum;
        const size_t from = i;
        i = engine_run_on(&b->fleet, s->request, from, n, false, s->stop, s->work, s->answer);
        stream_count(s, &b->fleet, from, i);
    }
    waits_fill_list(&c->waits, s->waits.single, s->waits.n);
    size_t last = 0, i = 0;
    for (unsigned w = 0; w < b->trial->weeks; w++) {
        for (; i < b->week[w + 1]; i++)
            last = c->clear[i] ? i : last;
        c->last[w] = last;
    }
}

// ---- replicates ----

// Weeks one after another, of which the stream holds what is run.
typedef struct {
    unsigned *week; // that is drawn for each place
    size_t *first;  // where each begins in the stream; one more than there are weeks
    unsigned *end;  // the last place up to which weeks follow as they did
} Laid;

static void lay_weeks(const Bootstrap *b, Laid *l) {
    const unsigned weeks = b->trial->weeks;
    l->first[0] = 0;
    for (unsigned w = 0; w < weeks; w++)
        l->first[w + 1] = l->first[w] + b->week[l->week[w] + 1] - b->week[l->week[w]];
    for (unsigned w = weeks; w-- > 0;)
        l->end[w] = w + 1 < weeks && l->week[w + 1] == l->week[w] + 1 ? l->end[w + 1] : w;
}

// Fills in some requests, from the i-th on, which is in place w; no instant is cut through. Where
// they end.
static size_t lay_piece(const Bootstrap *b, const Laid *l, unsigned w, size_t i, Stream *s) {
    enum { PIECE = 16 };
    const int32_t shift = ((int32_t)w - (int32_t)l->week[w]) * WEEK;
    const size_t from = b->week[l->week[w]] + (i - l->first[w]), end = b->week[l->week[w] + 1];
    size_t to = MIN(from + PIECE, end);
    while (to < end && b->request[to].at == b->request[to - 1].at)
        to++;
    memcpy(s->request + i, b->request + from, (to - from) * sizeof *s->request);
    memcpy(s->source + i, b->source + from, (to - from) * sizeof *s->source);
    memcpy(s->stop + i, b->course.clear + from, to - from);
    for (size_t k = 0; k < to - from; k++)
        s->request[i + k].at += shift;
    return i + (to - from);
}

// Runs from the clear state before the i-th request on, which is in place w, to one that is clear
// in the course too, or the end; where that is.
static size_t run_on(const Bootstrap *b, const Laid *l, unsigned w, size_t i, Stream *s) {
    const size_t n = l->first[b->trial->weeks];
    size_t laid = i, from = i;
    do {
        while (laid >= l->first[w + 1])
            w++;
        laid = lay_piece(b, l, w, laid, s);
        from =
            engine_run_on(&b->fleet, s->request, from, laid, laid < n, s->stop, s->work, s->answer);
    } while (from == laid && laid < n);
    stream_count(s, &b->fleet, i, from);
    return from;
}

// Runs the weeks, but for what is known of them.
static void run_weeks(const Bootstrap *b, const Laid *l, Stream *s) {
    const Course *c = &b->course;
    unsigned w = 0;
    stream_reset(s, &c->waits);
    engine_begin(&b->fleet, s->work);
    for (size_t i = 0, n = l->first[b->trial->weeks]; i < n;) { // the state is clear
        while (i >= l->first[w + 1])
            w++;
        const size_t at = b->week[l->week[w]] + (i - l->first[w]);
        if (c->clear[at]) {
            const size_t last = c->last[l->week[l->end[w]]];
            stream_add(s, &c->before[at], &c->before[last]);
            i += last - at;
            while (i >= l->first[w + 1])
                w++;
        }
        i = run_on(b, l, w, i, s);
    }
}

static void do_replicates(unsigned thread, void *user) {
    Bootstrap *b = user;
    const Trial *r = b->trial;
    Stream *s = &b->stream[thread];
    Laid l = {g_new0(unsigned, r->weeks), g_new0(size_t, r->weeks + 1), g_new0(unsigned, r->weeks)};
    for (gint i; (i = g_atomic_int_add(&b->next, 1)) < (gint)r->settings.replicates;) {
        double *value = b->value + ((size_t)i * r->scenarios->len + b->scenario) * TRIAL_MEASURES;
        draw_weeks(r, (unsigned)i, l.week);
        lay_weeks(b, &l);
        run_weeks(b, &l, s);
        stream_figures(s, r->weeks * 7.0, b->on_duty, value);
        value[TRIAL_ADDS] = b->fleet.teams == 0
                                ? NAN
                                : value[TRIAL_REACHED] - value[TRIAL_REACHED - TRIAL_MEASURES];
    }
    g_free(l.week);
    g_free(l.first);
    g_free(l.end);
}

// Scenario by scenario, so that what is known needs room but for one.
static void run_scenarios(Bootstrap *b) {
    const Trial *r = b->trial;
    const unsigned counts = r->demand->teams + 1;
    b->course = course_new(b);
    for (b->scenario = 0; b->scenario < r->scenarios->len; b->scenario++) {
        const GArray *shifts = b->shifts[b->scenario / counts];
        const unsigned teams = (unsigned)(b->scenario % counts);
        b->fleet = fleet_make(r, teams, shifts);
        b->on_duty = fleet_minutes_on_duty(shifts, teams, 0, (int32_t)r->weeks * WEEK);
        run_course(b, b->stream);
        b->next = 0;
        parallel_each(b->threads, (int)b->threads, do_replicates, b);
    }
    course_clear(&b->course);
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
