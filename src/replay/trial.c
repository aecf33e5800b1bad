// SPDX-License-Identifier: GPL-3.0-or-later
// Scenarios, their figures, and the bootstrap over weeks.
#include "replay/trial.h"

#include "stats/quantile.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { WEEK = 7 * WHEN_DAY, FEWEST_WEEKS = 10 };

const TrialMeasureText trial_measures[TRIAL_MEASURES] = {
    {"reached", "Requests reached by a team", "proportion"},
    {"reached_time_critical", "Time-critical requests reached", "proportion"},
    {"reached_urgent", "Urgent requests reached", "proportion"},
    {"reached_planned", "Planned requests reached", "proportion"},
    {"in_target", "Time-critical requests that leave with a team within the target", "proportion"},
    {"wait_median", "Request to team at the bedside, median", "minutes"},
    {"wait_p90", "Request to team at the bedside, 90th centile", "minutes"},
    {"time_critical_left", "Time-critical requests to which no team is sent", "per year"},
    {"time_critical_left_busy", "of them: every team on duty is out", "per year"},
    {"time_critical_left_off_duty", "of them: no team is on duty", "per year"},
    {"use", "Time out as a share of time on duty", "proportion"},
    {"kept_transfers", "Transfers that stay with the sending units' own people", "per week"},
    {"kept_hours", "Hours that their own people are still away", "hours per week"},
    {"kept_whole_time", "The same as whole-time people", "count"},
    {"adds", "Share of requests that the last team adds", "proportion"},
};

// A stream of requests and all that its figures need.
typedef struct {
    const Trial *trial;
    EngineRequest *request;
    uint32_t *source; // index of each in the demand
    size_t n;
    double days;
    EngineWork *work;
    EngineAnswer *answer;
    int32_t *wait;   // of those reached
    uint32_t *tally; // room to count waits
} Stream;

enum { TALLY = 1 << 15 }; // waits up to this long are sorted by counting

static Stream stream_new(const Trial *r, size_t n) {
    Stream s = {.trial = r, .n = n};
    s.request = g_new(EngineRequest, n + 1);
    s.source = g_new0(uint32_t, n + 1);
    s.answer = g_new(EngineAnswer, n + 1);
    s.wait = g_new(int32_t, n + 1);
    s.tally = g_new0(uint32_t, TALLY);
    s.work = engine_work_new(n);
    if (!s.work)
        g_error("out of memory for %zu requests", n);
    return s;
}

static void stream_clear(Stream *s) {
    g_free(s->request);
    g_free(s->source);
    g_free(s->answer);
    g_free(s->wait);
    g_free(s->tally);
    engine_work_free(s->work);
}

static EngineFleet fleet_of(const Trial *r, unsigned teams, const GArray *shifts) {
    const Demand *d = r->demand;
    EngineFleet f = {.teams = teams,
                     .stride = d->teams,
                     .busy = d->busy,
                     .order = d->order,
                     .shift = (const EngineShift *)(void *)shifts->data,
                     .shifts = shifts->len};
    for (int c = 0; c < RULES_CLASSES; c++) {
        f.longest_wait[c] = r->rules->wait[c];
        for (unsigned k = 0; k < teams; k++) {
            const RulesTeam *named = r->rules->named->len ? r->rules->named->pdata[k] : NULL;
            const uint8_t takes = named ? named->takes : r->rules->takes;
            f.takes[c] |= (uint64_t)(takes >> c & 1) << k;
        }
    }
    return f;
}

// Minutes on duty of the first `teams` teams from one instant to another.
static double minutes_on_duty(const GArray *shifts, unsigned teams, int32_t from, int32_t to) {
    const uint64_t mask = teams ? UINT64_MAX >> (64 - teams) : 0;
    double sum = 0;
    for (guint i = 0; i < shifts->len; i++) {
        const EngineShift *s = &g_array_index(shifts, EngineShift, i);
        const int32_t a = MAX(s->at, from), b = i + 1 < shifts->len ? MIN(s[1].at, to) : to;
        if (b > a)
            sum += (double)(b - a) * __builtin_popcountll(s->on & mask);
    }
    return sum;
}

// ---- figures of one run ----

static int by_minutes(const void *a, const void *b) {
    const int32_t x = *(const int32_t *)a, y = *(const int32_t *)b;
    return x < y ? -1 : x > y;
}

static void sort_waits(Stream *s, size_t n) {
    int32_t most = 0;
    for (size_t i = 0; i < n; i++)
        most = MAX(most, s->wait[i]);
    if (most >= TALLY) {
        qsort(s->wait, n, sizeof *s->wait, by_minutes);
        return;
    }
    for (size_t i = 0; i < n; i++)
        s->tally[s->wait[i]]++;
    size_t at = 0;
    for (int32_t w = 0; w <= most; w++) {
        const size_t end = at + s->tally[w];
        s->tally[w] = 0;
        while (at < end)
            s->wait[at++] = w;
    }
}

// Hyndman & Fan definition 2 of sorted waits.
static double wait_quantile(const Stream *s, size_t n, double p) {
    if (n == 0)
        return NAN;
    const double place = (double)n * p;
    const size_t k = (size_t)ceil(place - 1e-9);
    return place == floor(place) && k < n ? (s->wait[k - 1] + s->wait[k]) / 2.0
                                          : s->wait[k > 0 ? k - 1 : 0];
}

typedef struct {
    uint64_t n[RULES_CLASSES], reached[RULES_CLASSES];
    uint64_t in_target, busy_left, off_left, kept;
    int64_t minutes_out;
    double kept_hours;
    uint64_t states[ENGINE_OFF_DUTY + 1];
    size_t waits;
} Tally;

static void count(Stream *s, const EngineFleet *f, Tally *t) {
    const Demand *d = s->trial->demand;
    const int32_t target = s->trial->network->target[CODE_urgency_TIME_CRITICAL];
    for (size_t i = 0; i < s->n; i++) {
        const EngineRequest *r = &s->request[i];
        const EngineAnswer *a = &s->answer[i];
        t->n[r->class]++;
        t->states[a->state]++;
        if (a->state != ENGINE_REACHED) {
            t->busy_left += r->class == 0 && a->state == ENGINE_BUSY;
            t->off_left += r->class == 0 && a->state == ENGINE_OFF_DUTY;
            t->kept += d->own[s->source[i]];
            t->kept_hours += d->own_hours[s->source[i]];
            continue;
        }
        const size_t cell = (size_t)r->route * f->stride + a->team;
        const int32_t wait = a->dispatched - r->at + d->reach[cell];
        t->reached[r->class]++;
        t->minutes_out += f->busy[cell];
        t->in_target += r->class == 0 && wait + d->stabilisation[0] <= target;
        s->wait[t->waits++] = wait;
    }
}

static double ratio(double part, double whole) {
    return whole > 0 ? part / whole : NAN;
}

// Runs the stream against the fleet; value: all measures but TRIAL_ADDS.
static void figures(Stream *s, const EngineFleet *f, double on_duty, double *value,
                    TrialScenario *scenario) {
    Tally t = {0};
    engine_run(f, s->request, s->n, s->work, s->answer);
    count(s, f, &t);
    sort_waits(s, t.waits);
    const double years = s->days / 365.25, weeks = s->days / 7;
    value[TRIAL_REACHED] = ratio((double)t.states[ENGINE_REACHED], (double)s->n);
    for (int c = 0; c < RULES_CLASSES; c++)
        value[TRIAL_REACHED_CRITICAL + c] = ratio((double)t.reached[c], (double)t.n[c]);
    value[TRIAL_IN_TARGET] = s->trial->network->target[CODE_urgency_TIME_CRITICAL] < 0
                                 ? NAN
                                 : ratio((double)t.in_target, (double)t.n[0]);
    value[TRIAL_WAIT_MEDIAN] = wait_quantile(s, t.waits, 0.5);
    value[TRIAL_WAIT_P90] = wait_quantile(s, t.waits, 0.9);
    value[TRIAL_CRITICAL_LEFT] = (double)(t.busy_left + t.off_left) / years;
    value[TRIAL_CRITICAL_BUSY] = (double)t.busy_left / years;
    value[TRIAL_CRITICAL_OFF] = (double)t.off_left / years;
    value[TRIAL_USE] = ratio((double)t.minutes_out, on_duty);
    value[TRIAL_KEPT_TRANSFERS] = (double)t.kept / weeks;
    value[TRIAL_KEPT_HOURS] = t.kept_hours / weeks;
    value[TRIAL_KEPT_WHOLE_TIME] = value[TRIAL_KEPT_HOURS] / s->trial->network->weekly_hours;
    if (scenario) {
        scenario->reached = t.states[ENGINE_REACHED];
        scenario->busy = t.states[ENGINE_BUSY];
        scenario->off_duty = t.states[ENGINE_OFF_DUTY];
    }
}

// Runs the stream against every scenario; value[scenario * TRIAL_MEASURES + measure].
// shifts: GArray of EngineShift by roster; from, to: the instants between which duty is counted.
static void run_all(Stream *s, GArray *const *shifts, int32_t from, int32_t to, double *value,
                    TrialScenario *scenarios) {
    const Trial *r = s->trial;
    const unsigned counts = r->demand->teams + 1;
    for (unsigned roster = 0; roster < r->rules->rosters->len; roster++)
        for (unsigned teams = 0; teams < counts; teams++) {
            const size_t at = (size_t)roster * counts + teams;
            double *v = value + at * TRIAL_MEASURES;
            const EngineFleet fleet = fleet_of(r, teams, shifts[roster]);
            figures(s, &fleet, minutes_on_duty(shifts[roster], teams, from, to), v,
                    scenarios ? &scenarios[at] : NULL);
            v[TRIAL_ADDS] = teams == 0 ? NAN : v[TRIAL_REACHED] - v[TRIAL_REACHED - TRIAL_MEASURES];
        }
}

static GArray **shifts_of(const Trial *r, const Network *network, int32_t last_day) {
    GArray **shifts = g_new0(GArray *, r->rules->rosters->len + 1);
    for (guint i = 0; i < r->rules->rosters->len; i++)
        shifts[i] = demand_shifts(r->rules, r->rules->rosters->pdata[i], r->demand->teams,
                                  r->demand->first_day, last_day, network);
    return shifts;
}

static void free_shifts(const Trial *r, GArray **shifts) {
    for (guint i = 0; i < r->rules->rosters->len; i++)
        g_array_unref(shifts[i]);
    g_free(shifts);
}

// ---- as it was ----

static int32_t midnight(const Trial *r, int32_t day) {
    int32_t utc = 0, second;
    if (when_to_utc(r->network->zone, day * WHEN_DAY, &utc, &second) == WHEN_SKIPPED)
        when_to_utc(r->network->zone, day * WHEN_DAY + 60, &utc, &second);
    return utc;
}

static Stream actual_stream(const Trial *r) {
    Stream s = stream_new(r, r->demand->n);
    s.days = r->days;
    memcpy(s.request, r->demand->request, s.n * sizeof *s.request);
    for (size_t i = 0; i < s.n; i++)
        s.source[i] = (uint32_t)i;
    return s;
}

static void run_actual(Trial *r) {
    double *value = g_new0(double, (size_t)r->scenarios->len *TRIAL_MEASURES + 1);
    GArray **shifts = shifts_of(r, r->network, r->demand->last_day);
    Stream s = actual_stream(r);
    run_all(&s, shifts, midnight(r, r->demand->first_day), midnight(r, r->demand->last_day + 1),
            value, (TrialScenario *)(void *)r->scenarios->data);
    const double *v = value;
    TrialScenario *next = (TrialScenario *)(void *)r->scenarios->data;
    for (unsigned roster = 0; roster < r->rules->rosters->len; roster++)
        for (unsigned teams = 0; teams <= r->demand->teams; teams++, next++) {
            next->roster = roster;
            next->teams = teams;
            for (int m = 0; m < TRIAL_MEASURES; m++)
                next->value[m] = (StatsInterval){*v++, NAN, NAN};
        }
    stream_clear(&s);
    free_shifts(r, shifts);
    g_free(value);
}

// ---- resampled weeks ----

typedef struct {
    const Trial *trial;
    EngineRequest *request; // by the local clock since the first day 00:00, in order
    uint32_t *source;
    size_t *week; // where each whole week begins in them; one more than there are weeks
    GArray **shifts;
    double *value; // [replicate][scenario][measure]
    gint next;     // replicate that is to be done next
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

static void lay_weeks(const Bootstrap *b, const unsigned *weeks, Stream *s) {
    s->n = 0;
    for (unsigned w = 0; w < b->trial->weeks; w++) {
        const int32_t shift = ((int32_t)w - (int32_t)weeks[w]) * WEEK;
        for (size_t i = b->week[weeks[w]]; i < b->week[weeks[w] + 1]; i++) {
            s->request[s->n] = b->request[i];
            s->request[s->n].at += shift;
            s->source[s->n++] = b->source[i];
        }
    }
}

static gpointer do_replicates(gpointer data) {
    Bootstrap *b = data;
    const Trial *r = b->trial;
    Stream s = stream_new(r, most_requests(b));
    unsigned *weeks = g_new0(unsigned, r->weeks + 1);
    s.days = r->weeks * 7.0;
    for (gint i; (i = g_atomic_int_add(&b->next, 1)) < (gint)r->settings.replicates;) {
        draw_weeks(r, (unsigned)i, weeks);
        lay_weeks(b, weeks, &s);
        run_all(&s, b->shifts, 0, (int32_t)r->weeks * WEEK,
                b->value + (size_t)i * r->scenarios->len * TRIAL_MEASURES, NULL);
    }
    g_free(weeks);
    stream_clear(&s);
    return NULL;
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

static void run_bootstrap(Trial *r) {
    Bootstrap b = {.trial = r};
    fill_local(&b);
    b.shifts = shifts_of(r, NULL, r->demand->first_day + (int32_t)r->weeks * 7 - 1);
    b.value = g_new(double, (size_t)r->settings.replicates * r->scenarios->len * TRIAL_MEASURES);
    const unsigned threads =
        r->settings.threads ? r->settings.threads : (unsigned)g_get_num_processors();
    GThread **others = g_new(GThread *, threads);
    for (unsigned i = 1; i < threads; i++)
        others[i] = g_thread_new("replay", do_replicates, &b);
    do_replicates(&b);
    for (unsigned i = 1; i < threads; i++)
        g_thread_join(others[i]);
    set_limits(&b);
    g_free(others);
    free_shifts(r, b.shifts);
    g_free(b.request);
    g_free(b.source);
    g_free(b.week);
    g_free(b.value);
}

// ---- all of it ----

Trial *trial_run(const Demand *demand, const Rules *rules, const Network *network,
                 const TrialSettings *settings) {
    Trial *r = g_new0(Trial, 1);
    r->demand = demand, r->rules = rules, r->network = network, r->settings = *settings;
    r->days = demand->last_day - demand->first_day + 1;
    r->weeks = (unsigned)(demand->last_day - demand->first_day + 1) / 7;
    r->block = MAX(1, (unsigned)lround(cbrt(r->weeks)));
    r->scenarios = g_array_new(FALSE, TRUE, sizeof(TrialScenario));
    g_array_set_size(r->scenarios, rules->rosters->len * (demand->teams + 1));
    run_actual(r);
    if (r->weeks >= FEWEST_WEEKS && settings->replicates >= 2)
        run_bootstrap(r);
    return r;
}

void trial_free(Trial *trial) {
    if (!trial)
        return;
    g_array_unref(trial->scenarios);
    g_free(trial);
}

const TrialScenario *trial_scenario(const Trial *trial, unsigned roster, unsigned teams) {
    return &g_array_index(trial->scenarios, TrialScenario,
                          roster * (trial->demand->teams + 1) + teams);
}

EngineAnswer *trial_answers(const Trial *trial, unsigned roster, unsigned teams) {
    GArray *shifts =
        demand_shifts(trial->rules, trial->rules->rosters->pdata[roster], trial->demand->teams,
                      trial->demand->first_day, trial->demand->last_day, trial->network);
    const EngineFleet fleet = fleet_of(trial, teams, shifts);
    EngineWork *work = engine_work_new(trial->demand->n);
    EngineAnswer *answer = g_new0(EngineAnswer, trial->demand->n + 1);
    if (!work)
        g_error("out of memory for %zu requests", trial->demand->n);
    engine_run(&fleet, trial->demand->request, trial->demand->n, work, answer);
    engine_work_free(work);
    g_array_unref(shifts);
    return answer;
}

unsigned trial_enough(const Trial *trial, unsigned roster) {
    unsigned teams = 0;
    while (teams < trial->demand->teams &&
           trial_scenario(trial, roster, teams + 1)->value[TRIAL_ADDS].estimate >=
               trial->rules->worthwhile)
        teams++;
    return teams;
}
