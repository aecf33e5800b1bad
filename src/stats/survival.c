// SPDX-License-Identifier: GPL-3.0-or-later
// Kaplan-Meier as a list of steps, and what is read off it.
#include "stats/survival.h"
#include "stats/distribution.h"
#include "stats/order.h"

#include <math.h>
#include <stdlib.h>

static const StatsInterval undefined = {NAN, NAN, NAN};

// Survival this near to the level asked for is at it; R's sqrt(.Machine$double.eps).
static const double same_level = 1.4901161193847656e-8;

bool survival_curve(const double *times, const bool *event, size_t n, SurvivalStep *steps,
                    size_t *count) {
    *count = 0;
    for (size_t i = 0; i < n; i++)
        if (!(times[i] >= 0 && times[i] < INFINITY))
            return false;
    size_t *order = order_ascending(times, n);
    if (order == NULL)
        return false;
    double survival = 1, variance = 0, hazard = 0;
    for (size_t i = 0; i < n;) {
        SurvivalStep s = {.time = times[order[i]], .at_risk = (double)(n - i)};
        for (; i < n && times[order[i]] == s.time; i++)
            *(event[order[i]] ? &s.events : &s.censored) += 1;
        s.survival = survival *= (s.at_risk - s.events) / s.at_risk;
        s.variance = variance += s.events / (s.at_risk * (s.at_risk - s.events));
        s.hazard = hazard += s.events / s.at_risk;
        if (s.events == s.at_risk) // 0 by definition, not by rounding
            s.variance = variance = INFINITY;
        steps[(*count)++] = s;
    }
    free(order);
    return true;
}

// The curve after t, by halving: before the first step all are free of the event.
static SurvivalStep step_at(const SurvivalStep *steps, size_t count, double t) {
    const SurvivalStep none = {NAN, NAN, NAN, NAN, NAN, NAN, NAN}, start = {.survival = 1};
    if (count == 0 || !(t >= 0) || (t > steps[count - 1].time && steps[count - 1].survival > 0))
        return none;
    size_t low = 0,
           high = count; // steps before low are at or before t, those from high on after it
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (steps[middle].time <= t)
            low = middle + 1;
        else
            high = middle;
    }
    return low == 0 ? start : steps[low - 1];
}

static StatsInterval limits_of(const SurvivalStep *s, double z, SurvivalLimits limits) {
    double survival = s->survival, reach = z * sqrt(s->variance);
    StatsInterval i = {survival, NAN, NAN};
    if (!(survival > 0) || (limits == SURVIVAL_LOG_LOG && survival == 1))
        return i;
    if (limits == SURVIVAL_LOG_LOG) {
        double factor = exp(reach / -log(survival));
        i.lower = pow(survival, factor);
        i.upper = pow(survival, 1 / factor);
    } else if (limits == SURVIVAL_LOG) {
        i.lower = survival * exp(-reach);
        i.upper = fmin(1, survival * exp(reach));
    } else {
        i.lower = fmax(0, survival - survival * reach);
        i.upper = fmin(1, survival + survival * reach);
    }
    return i;
}

StatsInterval survival_at(const SurvivalStep *steps, size_t count, double t, double confidence,
                          SurvivalLimits limits) {
    SurvivalStep s = step_at(steps, count, t);
    return limits_of(&s, distribution_normal_critical(confidence), limits);
}

double survival_error(const SurvivalStep *steps, size_t count, double t) {
    SurvivalStep s = step_at(steps, count, t);
    return s.survival > 0 ? s.survival * sqrt(s.variance) : NAN;
}

double survival_hazard(const SurvivalStep *steps, size_t count, double t) {
    return step_at(steps, count, t).hazard;
}

// ---- quantiles ----

typedef enum { CURVE_ITSELF, CURVE_LOWER, CURVE_UPPER } Curve;

static double curve_at(const SurvivalStep *s, double z, SurvivalLimits limits, Curve curve) {
    if (curve == CURVE_ITSELF)
        return s->survival;
    StatsInterval i = limits_of(s, z, limits);
    return curve == CURVE_LOWER ? i.lower : i.upper;
}

// When the curve first comes down to a level; steps where it is undefined are passed over.
static double time_of(const SurvivalStep *steps, size_t count, double level, double z,
                      SurvivalLimits limits, Curve curve) {
    double reached = NAN;
    for (size_t i = 0; i < count; i++) {
        double value = curve_at(&steps[i], z, limits, curve);
        if (isnan(reached) && value <= level + same_level)
            reached = steps[i].time;
        if (value < level - same_level)
            return (reached + steps[i].time) / 2;
    }
    return isnan(reached) ? NAN : (reached + steps[count - 1].time) / 2;
}

StatsInterval survival_quantile(const SurvivalStep *steps, size_t count, double p,
                                double confidence, SurvivalLimits limits) {
    double z = distribution_normal_critical(confidence);
    if (!(p >= 0 && p <= 1) || count == 0)
        return undefined;
    return (StatsInterval){time_of(steps, count, 1 - p, z, limits, CURVE_ITSELF),
                           time_of(steps, count, 1 - p, z, limits, CURVE_LOWER),
                           time_of(steps, count, 1 - p, z, limits, CURVE_UPPER)};
}

// ---- restricted mean ----

double survival_mean(const SurvivalStep *steps, size_t count, double until, double *error) {
    if (error != NULL)
        *error = NAN;
    if (count == 0 || !(until >= 0) || isinf(until) ||
        (until > steps[count - 1].time && steps[count - 1].survival > 0))
        return NAN;
    // from the right: the area beyond each step is what an event there costs
    double area = 0, variance = 0, end = until;
    for (size_t i = count; i-- > 0;) {
        const SurvivalStep *s = &steps[i];
        if (s->time > until)
            continue;
        area += (end - s->time) * s->survival;
        end = s->time;
        if (s->events < s->at_risk)
            variance += area * area * s->events / (s->at_risk * (s->at_risk - s->events));
    }
    if (error != NULL)
        *error = sqrt(variance);
    return area + end;
}
