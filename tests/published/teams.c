// SPDX-License-Identifier: GPL-3.0-or-later
// Hand examples of absences from a base and of teams that answer requests.
#include "published.h"
#include "replay/engine.h"
#include "stats/concurrent.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 64, HOUR = 60 };

// ---- absences: half-open intervals [a,b) of hours ----

static size_t intervals(const char *text, int64_t *start, int64_t *end) {
    double numbers[2 * MOST];
    const size_t n =
        check_numbers(strchr(text, '[') ? strchr(text, '[') : "", numbers, 2 * MOST) / 2;
    for (size_t i = 0; i < n; i++) {
        start[i] = (int64_t)lround(numbers[2 * i] * HOUR);
        end[i] = (int64_t)lround(numbers[2 * i + 1] * HOUR);
    }
    return n;
}

static bool sweep(const CheckRow *row, Concurrent *c) {
    int64_t start[MOST], end[MOST];
    const char *text = strchr(row->inputs, '[') ? row->inputs : row->source;
    const size_t n = intervals(text, start, end);
    return n > 0 && concurrent_sweep(n, start, end, c, 0, NULL, NULL);
}

static CheckAnswer away(const CheckRow *row) {
    Concurrent c;
    if (check_says(row->inputs, "end before start")) {
        const int64_t late = 5, early = 3;
        return check_text(concurrent_sweep(1, &late, &early, &c, 0, NULL, NULL) ? "no error"
                                                                                : "error");
    }
    if (!sweep(row, &c))
        return check_not_mine();
    if (check_says(row->method, "time-average"))
        return check_number(c.sum / (12 * HOUR)); // over [0,12), as the method says
    if (check_says(row->method, "largest number") || check_says(row->quantity, "concurrent"))
        return check_number(c.peak);
    return check_number(c.at_least[check_says(row->method, "three") ? 2 : 0] / HOUR);
}

// ---- teams ----

// `arrivals 0,1,2; durations 4,3,2` in hours; each request is a route of its own.
typedef struct {
    size_t n;
    EngineRequest request[MOST];
    int32_t busy[MOST * 3];
    uint8_t order[MOST * 3];
    EngineAnswer answer[MOST];
} Example;

static bool read_example(const char *text, unsigned teams, Example *e) {
    double arrivals[MOST], durations[MOST];
    const char *a = strstr(text, "arrivals"), *d = strstr(text, "durations");
    if (!a || !d || d < a || teams > 3)
        return false;
    char first[256] = {0};
    memcpy(first, a, (size_t)(d - a) < sizeof first ? (size_t)(d - a) : sizeof first - 1);
    e->n = check_numbers(first, arrivals, MOST);
    if (check_numbers(d, durations, MOST) < e->n || e->n == 0)
        return false;
    for (size_t i = 0; i < e->n; i++) {
        e->request[i] = (EngineRequest){(int32_t)lround(arrivals[i] * HOUR), (uint32_t)i, 0};
        for (unsigned k = 0; k < teams; k++) {
            e->busy[i * teams + k] = (int32_t)lround(durations[i] * HOUR);
            e->order[i * teams + k] = (uint8_t)k;
        }
    }
    return true;
}

static void run(Example *e, unsigned teams, int32_t longest_wait) {
    const EngineShift always = {INT32_MIN, UINT64_MAX};
    EngineFleet fleet = {.teams = teams,
                         .stride = teams,
                         .busy = e->busy,
                         .order = e->order,
                         .takes = {UINT64_MAX},
                         .longest_wait = {longest_wait},
                         .shift = &always,
                         .shifts = 1};
    EngineWork *work = engine_work_new(e->n);
    engine_run(&fleet, e->request, e->n, work, e->answer);
    engine_work_free(work);
}

static CheckAnswer replay(const CheckRow *row) {
    Example e;
    double teams = 1;
    check_key(row, "N", &teams);
    const bool given = strstr(row->inputs, "arrivals") != NULL;
    const char *edge = "arrivals 0,4; durations 4,1"; // for the rows that tell the rule in words
    const char *text = given ? row->inputs : strstr(row->source, "arrivals") ? row->source : edge;
    if (teams > 3 || !read_example(text, (unsigned)teams, &e))
        return check_not_mine();
    const bool queue = check_says(row->method, "FIFO");
    run(&e, (unsigned)teams, queue ? ENGINE_NEVER : 0);
    double lost = 0, longest = 0, sum = 0;
    for (size_t i = 0; i < e.n; i++) {
        lost += e.answer[i].state != ENGINE_REACHED;
        const double wait = (double)(e.answer[i].dispatched - e.request[i].at) / HOUR;
        longest = fmax(longest, wait);
        sum += wait;
    }
    if (check_says(row->quantity, "available"))
        return check_text(lost == 0 ? "yes" : "no");
    if (check_says(row->quantity, "served"))
        return check_number((double)e.n - lost);
    if (!queue)
        return check_number(lost);
    return check_number(check_says(row->method, "longest") ? longest : sum / (double)e.n);
}

// M/M/k/k or M/D/k/k (A=load): the share of Poisson arrivals that find no team free, service of
// mean 1000 minutes, exponential or constant; fixed seed.
static CheckAnswer simulated_loss(const CheckRow *row) {
    enum { MEAN = 1000 };
    char kind = 0;
    unsigned teams = 0;
    const char *text = strstr(row->method, "M/") ? row->method : row->inputs;
    double load = 2, arrivals = 400000; // where the row does not say
    if (sscanf(text, "M/%c/%u/", &kind, &teams) != 2 || (kind != 'M' && kind != 'D') || teams > 64)
        return check_not_mine();
    const char *says = strstr(row->method, "A=");
    if (says)
        load = strtod(says + 2, NULL);
    check_key(row, "A", &load);
    const char *word = strstr(row->inputs, " arrivals");
    if (word && check_numbers(row->inputs, &arrivals, 1) != 1)
        return check_not_mine();
    const size_t n = (size_t)arrivals;
    EngineRequest *request = calloc(n, sizeof *request);
    int32_t *busy = calloc(n * teams, sizeof *busy);
    uint8_t *order = calloc(n * teams, 1);
    EngineAnswer *answer = calloc(n, sizeof *answer);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 1917);
    double at = 0;
    for (size_t i = 0; i < n; i++) {
        at += gsl_ran_exponential(rng, MEAN / load);
        request[i] = (EngineRequest){(int32_t)at, (uint32_t)i, 0};
        const double service = kind == 'D' ? MEAN : gsl_ran_exponential(rng, MEAN);
        for (unsigned k = 0; k < teams; k++)
            busy[i * teams + k] = (int32_t)lround(service), order[i * teams + k] = (uint8_t)k;
    }
    const EngineShift always = {INT32_MIN, UINT64_MAX};
    const EngineFleet fleet = {.teams = teams,
                               .stride = teams,
                               .busy = busy,
                               .order = order,
                               .takes = {UINT64_MAX},
                               .shift = &always,
                               .shifts = 1};
    EngineWork *work = engine_work_new(n);
    engine_run(&fleet, request, n, work, answer);
    double lost = 0;
    for (size_t i = 0; i < n; i++)
        lost += answer[i].state != ENGINE_REACHED;
    engine_work_free(work);
    gsl_rng_free(rng);
    free(request), free(busy), free(order), free(answer);
    return check_number(lost / (double)n);
}

const CheckMethod published_teams[] = {
    {"M/?/*simulated loss*", simulated_loss},
    {"hours with *away*", away},
    {"largest number away*", away},
    {"time-average number away*", away},
    {"base cover", away},
    {"FIFO replay*", replay},
    {"loss replay*", replay},
    {"a team freed exactly*", replay},
    {"replay", replay},
    {NULL, NULL},
};
