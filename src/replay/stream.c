// SPDX-License-Identifier: GPL-3.0-or-later
// Counting answers, and the figures of what was counted.
#include "replay/stream.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

Stream stream_new(const Trial *trial, size_t n) {
    Stream s = {.trial = trial};
    s.request = g_new(EngineRequest, n + 1);
    s.source = g_new0(uint32_t, n + 1);
    s.stop = g_new0(uint8_t, n + 1);
    s.answer = g_new(EngineAnswer, n + 1);
    s.waits = waits_new(n, trial->weeks);
    s.work = engine_work_new(n);
    if (!s.work)
        g_error("out of memory for %zu requests", n);
    return s;
}

void stream_clear(Stream *s) {
    g_free(s->request);
    g_free(s->source);
    g_free(s->stop);
    g_free(s->answer);
    waits_free(&s->waits);
    engine_work_free(s->work);
}

void stream_reset(Stream *s, const WaitsList *list) {
    s->sum = (Outcome){0};
    waits_reset(&s->waits, list);
}

// ---- counting ----

static void count_left(Outcome *o, const Demand *d, uint32_t source, unsigned class,
                       EngineState state) {
    const bool busy = state == ENGINE_BUSY;
    o->busy += busy;
    o->off_duty += !busy;
    o->busy_left += class == 0 && busy;
    o->off_left += class == 0 && !busy;
    o->kept += d->own[source] != DEMAND_OTHERS;
    o->kept_unknown += d->own[source] == DEMAND_OWN_UNKNOWN;
    o->kept_minutes += d->own_minutes[source];
}

void stream_count(Stream *s, const EngineFleet *f, size_t from, size_t to) {
    const Demand *d = s->trial->demand;
    const int32_t target = s->trial->network->target[CODE_urgency_TIME_CRITICAL];
    Outcome o = s->sum;
    for (size_t i = from; i < to; i++) {
        const EngineRequest *r = &s->request[i];
        const EngineAnswer *a = &s->answer[i];
        o.n[r->class]++;
        if (a->state != ENGINE_REACHED) {
            count_left(&o, d, s->source[i], r->class, a->state);
            continue;
        }
        const size_t cell = (size_t)r->route * f->stride + a->team;
        const int32_t wait = a->dispatched - r->at + d->reach[cell];
        o.reached[r->class]++;
        o.minutes_out += f->busy[cell];
        o.in_target += r->class == 0 && wait + d->stabilisation[0] <= target;
        waits_add(&s->waits, wait);
    }
    s->sum = o;
}

uint32_t stream_reached(const Outcome *o) {
    uint32_t reached = 0;
    for (int c = 0; c < RULES_CLASSES; c++)
        reached += o->reached[c];
    return reached;
}

void stream_add(Stream *s, const Outcome *since, const Outcome *until) {
    Outcome *o = &s->sum;
    for (int c = 0; c < RULES_CLASSES; c++) {
        o->n[c] += until->n[c] - since->n[c];
        o->reached[c] += until->reached[c] - since->reached[c];
    }
    o->in_target += until->in_target - since->in_target;
    o->busy += until->busy - since->busy;
    o->off_duty += until->off_duty - since->off_duty;
    o->busy_left += until->busy_left - since->busy_left;
    o->off_left += until->off_left - since->off_left;
    o->kept += until->kept - since->kept;
    o->kept_unknown += until->kept_unknown - since->kept_unknown;
    o->kept_minutes += until->kept_minutes - since->kept_minutes;
    o->minutes_out += until->minutes_out - since->minutes_out;
    waits_add_stretch(&s->waits, stream_reached(since), stream_reached(until));
}

// ---- waits ----

// Hyndman & Fan definition 2: the places of the two waits whose mean it is.
static void places(size_t n, double p, size_t *rank) {
    const double place = (double)n * p;
    const size_t k = (size_t)ceil(place - 1e-9);
    rank[0] = k > 0 ? k - 1 : 0;
    rank[1] = place == floor(place) && k < n ? k : rank[0];
}

static void wait_figures(Stream *s, double *value) {
    size_t rank[4];
    int32_t minutes[4] = {0};
    value[TRIAL_WAIT_MEDIAN] = value[TRIAL_WAIT_P90] = NAN;
    if (s->waits.n == 0)
        return;
    places(s->waits.n, 0.5, rank);
    places(s->waits.n, 0.9, rank + 2);
    waits_pick(&s->waits, rank, 4, minutes);
    value[TRIAL_WAIT_MEDIAN] = (minutes[0] + minutes[1]) / 2.0;
    value[TRIAL_WAIT_P90] = (minutes[2] + minutes[3]) / 2.0;
}

// ---- figures ----

// The unknown lengths count as the mean of the known ones.
static double kept_hours(const Stream *s) {
    const double known = (double)s->sum.kept_minutes / 60;
    return s->sum.kept_unknown ? known + s->sum.kept_unknown * s->trial->demand->mean_own_hours
                               : known;
}

static double ratio(double part, double whole) {
    return whole > 0 ? part / whole : NAN;
}

void stream_figures(Stream *s, double days, double on_duty, double *value) {
    const Outcome *o = &s->sum;
    const Network *network = s->trial->network;
    const double years = days / 365.25, weeks = days / 7;
    uint32_t n = 0;
    for (int c = 0; c < RULES_CLASSES; c++) {
        n += o->n[c];
        value[TRIAL_REACHED_CRITICAL + c] = ratio(o->reached[c], o->n[c]);
    }
    value[TRIAL_REACHED] = ratio(stream_reached(o), n);
    value[TRIAL_IN_TARGET] =
        network->target[CODE_urgency_TIME_CRITICAL] < 0 ? NAN : ratio(o->in_target, o->n[0]);
    wait_figures(s, value);
    value[TRIAL_CRITICAL_LEFT] = ((double)o->busy_left + (double)o->off_left) / years;
    value[TRIAL_CRITICAL_BUSY] = o->busy_left / years;
    value[TRIAL_CRITICAL_OFF] = o->off_left / years;
    value[TRIAL_USE] = ratio((double)o->minutes_out, on_duty);
    value[TRIAL_KEPT_TRANSFERS] = o->kept / weeks;
    value[TRIAL_KEPT_HOURS] = kept_hours(s) / weeks;
    value[TRIAL_KEPT_WHOLE_TIME] = value[TRIAL_KEPT_HOURS] / network->weekly_hours;
}
