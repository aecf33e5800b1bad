// SPDX-License-Identifier: GPL-3.0-or-later
// From an indicator's records to the powers of stats/power.h.
#include "measure/planning.h"

#include "stats/power.h"
#include "stats/quantile.h"

#include <math.h>

#define QUARTER (365.25 / 4 / 7) // weeks
enum { MOST = 1000000 };

static bool fail(GError **error, const char *why) {
    g_set_error_literal(error, NETWORK_ERROR, NETWORK_ERROR_USAGE, why);
    return false;
}

typedef struct {
    double records, sum, squares, exposure;
    GArray *minutes;
} Sums;

static void add_up(const CountData *d, const Indicator *in, uint16_t unit, Sums *s) {
    CountRecord *block = g_new0(CountRecord, COUNT_BLOCK);
    for (size_t first = 0; first < d->t->n; first += COUNT_BLOCK) {
        const size_t n = MIN((size_t)COUNT_BLOCK, d->t->n - first);
        count_records(d, in, first, n, block);
        for (size_t i = 0; i < n; i++) {
            const size_t row = first + i;
            if (block[i].state != COUNT_IN || d->slot[PERIOD_ALL][d->month[row]] < 0 ||
                (unit && transfers_units(d->t, FIELD_sending_unit)[row] != unit))
                continue;
            const double minutes = block[i].minutes, k = block[i].events;
            s->records++;
            s->sum += k;
            s->squares += k * k;
            s->exposure +=
                in->exposure == EXPOSURE_HOURS ? block[i].exposure / 60 : block[i].exposure;
            if (in->measure == MEASURE_QUANTILE)
                g_array_append_val(s->minutes, minutes);
        }
    }
    g_free(block);
}

bool planning_from(Planning *plan, const CountData *d, const Indicator *in, uint16_t unit,
                   GError **error) {
    if (in->measure != MEASURE_SHARE && in->measure != MEASURE_QUANTILE &&
        (in->measure != MEASURE_RATE || !in->events))
        return fail(error, "plan takes a share, a rate of events or a quantile (its median)");
    Sums s = {.minutes = g_array_new(FALSE, FALSE, sizeof(double))};
    add_up(d, in, unit, &s);
    const double quarters = count_weeks(d, &g_array_index(d->periods, Period, 0)) / QUARTER;
    const bool any = s.records > 0 && (in->measure != MEASURE_RATE || s.exposure > 0);
    plan->cluster = s.sum > 0 ? fmax(1, s.squares / s.sum) : 1;
    plan->n_minutes = s.minutes->len;
    plan->minutes = (double *)(void *)g_array_free(s.minutes, FALSE);
    quantile_sort(plan->minutes, plan->n_minutes);
    switch (in->measure) {
    case MEASURE_SHARE:
        plan->kind = PLANNING_SHARE;
        plan->now = s.sum / s.records;
        plan->per_quarter = s.records / quarters;
        break;
    case MEASURE_RATE:
        plan->kind = PLANNING_RATE;
        plan->now = s.sum / s.exposure;
        plan->per_quarter = s.exposure / quarters;
        break;
    default:
        plan->kind = PLANNING_MEDIAN;
        plan->now = any ? quantile_hf2(plan->minutes, plan->n_minutes, 0.5) : NAN;
        plan->per_quarter = s.records / quarters;
        break;
    }
    return any || fail(error, "there is no record to plan from");
}

void planning_clear(Planning *plan) {
    g_free(plan->minutes);
    plan->minutes = NULL;
}

double planning_power(const Planning *p, double n) {
    switch (p->kind) {
    case PLANNING_SHARE:
        return power_shares(n, p->now, n, p->then, p->alpha);
    case PLANNING_RATE:
        return power_rates(p->now * n / p->cluster, p->then * n / p->cluster, 0.5, p->alpha);
    case PLANNING_MEDIAN:
        return power_ranks(n, n, power_superiority(p->minutes, p->n_minutes, p->then / p->now),
                           p->alpha);
    }
    return NAN;
}

static double at_size(double n, const void *plan) {
    return planning_power(plan, n);
}

double planning_needed(const Planning *plan) {
    return power_size(at_size, plan, plan->wanted, MOST);
}

// The value between `now`, which is not seen, and `end` that is just seen; NaN if `end` is not.
static double just_seen(const Planning *plan, double n, double end) {
    Planning trial = *plan;
    double hidden = plan->now, seen = end;
    trial.then = end;
    if (!(planning_power(&trial, n) >= plan->wanted))
        return NAN;
    for (int k = 0; k < 40; k++) {
        trial.then = (hidden + seen) / 2;
        if (planning_power(&trial, n) >= plan->wanted)
            seen = trial.then;
        else
            hidden = trial.then;
    }
    return seen;
}

void planning_visible(const Planning *plan, double n, double *down, double *up) {
    const double least = plan->kind == PLANNING_SHARE ? 0 : plan->now * 1e-6;
    const double most = plan->kind == PLANNING_SHARE ? 1 : plan->now * 100;
    *down = just_seen(plan, n, least);
    *up = just_seen(plan, n, most);
}
