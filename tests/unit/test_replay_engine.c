// SPDX-License-Identifier: GPL-3.0-or-later
// The event loop of the replay: queueing theory (Erlang's formulas), order of events, conservation.
#include "replay/engine.h"
#include "stats/erlang.h"

#include <check.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 40000, RUNS = 16, TICKS = 1000 };

static const EngineShift always = {INT32_MIN, UINT64_MAX};

// Requests with random service, each a route of its own, for teams that are alike.
typedef struct {
    EngineRequest *request;
    int32_t *busy;
    uint8_t *order;
    EngineAnswer *answer;
    EngineWork *work;
    unsigned teams;
} World;

static World world_new(unsigned teams) {
    World w = {.teams = teams};
    w.request = malloc(MOST * sizeof *w.request);
    w.busy = malloc(MOST * teams * sizeof *w.busy);
    w.order = malloc(MOST * teams);
    w.answer = malloc(MOST * sizeof *w.answer);
    w.work = engine_work_new(MOST);
    for (size_t i = 0; i < MOST * teams; i++)
        w.order[i] = (uint8_t)(i % teams);
    return w;
}

static void world_free(World *w) {
    free(w->request);
    free(w->busy);
    free(w->order);
    free(w->answer);
    engine_work_free(w->work);
}

typedef enum { EXPONENTIAL, CONSTANT, MIXED } Service;

// Service times of mean 1: exponential, constant, or of high variance.
static double service(gsl_rng *rng, Service kind) {
    if (kind == CONSTANT)
        return 1;
    if (kind == EXPONENTIAL)
        return gsl_ran_exponential(rng, 1);
    return gsl_rng_uniform(rng) < 0.9 ? gsl_ran_exponential(rng, 0.5)
                                      : gsl_ran_exponential(rng, 5.5);
}

// Poisson arrivals, so many in a mean time of service. Times are in thousandths of that.
static void fill(World *w, gsl_rng *rng, double load, Service kind) {
    double at = 0;
    for (size_t i = 0; i < MOST; i++) {
        at += gsl_ran_exponential(rng, 1 / load);
        w->request[i] = (EngineRequest){(int32_t)(at * TICKS), (uint32_t)i, 0};
        const int32_t busy = (int32_t)lround(service(rng, kind) * TICKS);
        for (unsigned k = 0; k < w->teams; k++)
            w->busy[i * w->teams + k] = busy;
    }
}

static EngineFleet fleet_of(const World *w, int32_t longest_wait) {
    return (EngineFleet){.teams = w->teams,
                         .stride = w->teams,
                         .busy = w->busy,
                         .order = w->order,
                         .takes = {UINT64_MAX, UINT64_MAX, UINT64_MAX, UINT64_MAX},
                         .longest_wait = {longest_wait, longest_wait, longest_wait, longest_wait},
                         .shift = &always,
                         .shifts = 1};
}

// Share of requests that found no team free: left, or sent to only later. The first tenth only
// fills the system.
static double share_blocked(World *w, int32_t longest_wait) {
    const EngineFleet fleet = fleet_of(w, longest_wait);
    engine_run(&fleet, w->request, MOST, w->work, w->answer);
    size_t blocked = 0;
    for (size_t i = MOST / 10; i < MOST; i++)
        blocked += w->answer[i].dispatched != w->request[i].at;
    return (double)blocked / (MOST - MOST / 10);
}

// Mean over independent runs; fails when `expected` lies over 4 standard errors away, or when the
// standard error is too large for that to say much.
static void agrees(unsigned teams, double load, Service kind, int32_t longest_wait,
                   double expected) {
    World w = world_new(teams);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 20 + teams);
    double sum = 0, squares = 0;
    for (int run = 0; run < RUNS; run++) {
        fill(&w, rng, load, kind);
        const double share = share_blocked(&w, longest_wait);
        sum += share, squares += share * share;
    }
    const double mean = sum / RUNS,
                 error = sqrt((squares - RUNS * mean * mean) / (RUNS - 1) / RUNS);
    ck_assert_msg(fabs(mean - expected) < 4 * error, "%u teams, load %g: %g, expected %g +- %g",
                  teams, load, mean, expected, error);
    ck_assert_msg(error < 0.02 * expected, "%u teams, load %g: error %g of %g", teams, load, error,
                  expected);
    gsl_rng_free(rng);
    world_free(&w);
}

START_TEST(loss_is_erlang_b) {
    // closed forms 1/2 and 4/19; the others are printed in a table of Erlang B (checks.csv,
    // erl.b.*)
    static const struct {
        unsigned teams;
        double load, loss;
    } grid[] = {
        {1, 1, 0.5}, {3, 2, 4.0 / 19}, {10, 12, 0.301925}, {14, 12, 0.117210}, {18, 20, 0.221260}};
    for (size_t i = 0; i < sizeof grid / sizeof *grid; i++)
        for (int kind = EXPONENTIAL; kind <= MIXED; kind++)
            agrees(grid[i].teams, grid[i].load, (Service)kind, 0, grid[i].loss);
}
END_TEST

START_TEST(queue_is_erlang_c) {
    // Gross & Harris's clinic 4/9, closed form 1/3, and 0.28527 (checks.csv, erl.c.*)
    agrees(2, 1, EXPONENTIAL, ENGINE_NEVER, 1.0 / 3);
    agrees(3, 2, EXPONENTIAL, ENGINE_NEVER, 4.0 / 9);
    agrees(13, 10, EXPONENTIAL, ENGINE_NEVER, 0.285270);
}
END_TEST

// Over a grid, against the formulas of stats/erlang.h, which published tables bear out elsewhere.
START_TEST(erlang_over_a_grid) {
    for (unsigned teams = 1; teams <= 8; teams++)
        for (double each = 0.5; each < 1; each += 0.2)
            agrees(teams, teams * each, EXPONENTIAL, 0, erlang_b(teams, teams * each));
    for (unsigned teams = 1; teams <= 4; teams++)
        agrees(teams, teams * 0.6, EXPONENTIAL, ENGINE_NEVER, erlang_c(teams, teams * 0.6));
}
END_TEST

START_TEST(every_request_ends_once) {
    World w = world_new(4);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    for (unsigned seed = 1; seed <= 5; seed++) {
        gsl_rng_set(rng, seed);
        fill(&w, rng, 5, MIXED);
        for (size_t i = 0; i < MOST; i++)
            w.request[i].class = (uint8_t)gsl_rng_uniform_int(rng, 4);
        EngineFleet fleet = fleet_of(&w, (int32_t)gsl_rng_uniform_int(rng, 3000));
        const EngineShift shifts[] = {{1000, 3}, {500000, 0}, {900000, 15}, {9000000, 8}};
        fleet.shift = shifts, fleet.shifts = 4;
        memset(w.answer, 0xff, MOST * sizeof *w.answer);
        engine_run(&fleet, w.request, MOST, w.work, w.answer);
        int32_t free_at[4] = {INT32_MIN, INT32_MIN, INT32_MIN, INT32_MIN};
        size_t by[4] = {0};
        for (size_t i = 0; i < MOST; i++) {
            const EngineAnswer *a = &w.answer[i];
            ck_assert(a->state >= ENGINE_REACHED && a->state <= ENGINE_OFF_DUTY);
            by[a->state]++;
            ck_assert((a->state == ENGINE_REACHED) == (a->dispatched != ENGINE_NEVER));
            if (a->state != ENGINE_REACHED)
                continue;
            ck_assert(a->team < 4 && a->dispatched >= w.request[i].at);
            ck_assert(a->dispatched - w.request[i].at <= fleet.longest_wait[0]);
            uint64_t on = 0;
            for (int s = 0; s < 4 && shifts[s].at <= a->dispatched; s++)
                on = shifts[s].on;
            ck_assert(on >> a->team & 1);
        }
        ck_assert(by[ENGINE_REACHED] + by[ENGINE_BUSY] + by[ENGINE_OFF_DUTY] == MOST);
        ck_assert(by[ENGINE_REACHED] > 0 && by[ENGINE_OFF_DUTY] > 0);
        // no team is in two places: its calls, in order of their start, do not overlap
        for (int32_t now = 0; now < 4; now++)
            for (size_t i = 0; i < MOST; i++)
                if (w.answer[i].state == ENGINE_REACHED && w.answer[i].team == now &&
                    fleet.longest_wait[0] == 0) {
                    ck_assert(w.answer[i].dispatched >= free_at[now]);
                    free_at[now] = w.answer[i].dispatched + w.busy[i * 4];
                }
    }
    gsl_rng_free(rng);
    world_free(&w);
}
END_TEST

START_TEST(more_teams_lose_no_more_from_one_base) {
    World w = world_new(8);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    for (unsigned seed = 1; seed <= 4; seed++) {
        size_t before = 0;
        gsl_rng_set(rng, seed);
        fill(&w, rng, 4, (Service)(seed % 3));
        for (unsigned teams = 0; teams <= 8; teams++) {
            EngineFleet fleet = fleet_of(&w, 0);
            fleet.teams = teams;
            engine_run(&fleet, w.request, MOST, w.work, w.answer);
            size_t reached = 0;
            for (size_t i = 0; i < MOST; i++)
                reached += w.answer[i].state == ENGINE_REACHED;
            ck_assert(reached >= before);
            ck_assert(teams > 0 || reached == 0);
            before = reached;
        }
    }
    gsl_rng_free(rng);
    world_free(&w);
}
END_TEST

// ---- hand-made cases: two teams, A 10 and B 20 away on route 0, B 5 on route 1; each out for 100
// ----

static const int32_t two_busy[] = {100, 100, 100, 100};
static const uint8_t two_order[] = {0, 1, 1, 0};

static void run_two(const EngineRequest *r, size_t n, EngineFleet *f, EngineAnswer *answer) {
    f->teams = f->stride = 2;
    f->busy = two_busy;
    f->order = two_order;
    if (!f->shift)
        f->shift = &always, f->shifts = 1;
    EngineWork *work = engine_work_new(n);
    engine_run(f, r, n, work, answer);
    engine_work_free(work);
}

START_TEST(nearest_free_team_goes) {
    const EngineRequest r[] = {{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {100, 1, 0}};
    EngineFleet f = {.takes = {3}};
    EngineAnswer a[4];
    run_two(r, 4, &f, a);
    ck_assert(a[0].team == 0 && a[1].team == 1);
    ck_assert(a[2].state == ENGINE_BUSY);
    ck_assert(a[3].team == 0); // B is nearer, but out until 101; A is back at 100
}
END_TEST

START_TEST(urgent_first_then_oldest) {
    const EngineRequest r[] = {{0, 0, 0}, {0, 0, 0}, {10, 0, 2}, {20, 0, 1}, {30, 0, 1}};
    EngineFleet f = {.takes = {3, 3, 3}, .longest_wait = {0, 500, 500}};
    EngineAnswer a[5];
    run_two(r, 5, &f, a);
    ck_assert(a[3].dispatched == 100 && a[3].team == 0);
    ck_assert(a[4].dispatched == 100 && a[4].team == 1);
    ck_assert(a[2].dispatched == 200);
}
END_TEST

START_TEST(waits_to_the_last_minute_and_no_longer) {
    const EngineRequest r[] = {{0, 0, 0}, {0, 0, 0}, {10, 0, 1}, {10, 0, 2}};
    EngineFleet f = {.takes = {3, 3, 3}, .longest_wait = {0, 90, 89}};
    EngineAnswer a[4];
    run_two(r, 4, &f, a);
    ck_assert(a[2].state == ENGINE_REACHED && a[2].dispatched == 100);
    ck_assert(a[3].state == ENGINE_BUSY && a[3].dispatched == ENGINE_NEVER);
}
END_TEST

START_TEST(only_on_duty_and_only_what_it_takes) {
    const EngineShift shifts[] = {{50, 1}, {150, 2}, {300, 0}};
    const EngineRequest r[] = {{0, 0, 0},   {10, 0, 1},  {60, 0, 0},
                               {299, 0, 1}, {299, 0, 0}, {300, 0, 0}};
    EngineFleet f = {.takes = {3, 1}, .longest_wait = {0, 1000}, .shift = shifts, .shifts = 3};
    EngineAnswer a[6];
    run_two(r, 6, &f, a);
    ck_assert(a[0].state == ENGINE_OFF_DUTY);
    ck_assert(a[1].dispatched == 50 && a[1].team == 0);  // A's shift begins
    ck_assert(a[2].state == ENGINE_BUSY);                // A is out until 150
    ck_assert(a[3].state == ENGINE_OFF_DUTY);            // B does not take class 1, A is off duty
    ck_assert(a[4].team == 1 && a[4].dispatched == 299); // the last minute of B's shift
    ck_assert(a[5].state == ENGINE_OFF_DUTY);
}
END_TEST

START_TEST(before_the_epoch) {
    // times before 1970 are negative minutes; the heap's order must hold there too
    const EngineRequest r[] = {{-1000, 0, 0}, {-999, 0, 0}, {-950, 0, 1}, {-50, 0, 0}};
    EngineFleet f = {.takes = {3, 3}, .longest_wait = {0, ENGINE_NEVER}};
    EngineAnswer a[4];
    run_two(r, 4, &f, a);
    ck_assert(a[0].team == 0 && a[1].team == 1);
    ck_assert(a[2].dispatched == -900 && a[2].team == 0);
    ck_assert(a[3].dispatched == -50);
}
END_TEST

START_TEST(no_team_and_no_request) {
    const EngineRequest r[] = {{0, 0, 0}, {5, 0, 1}};
    EngineFleet f = {
        .takes = {3, 3}, .longest_wait = {0, ENGINE_NEVER}, .shift = &always, .shifts = 1};
    EngineAnswer a[2];
    EngineWork *work = engine_work_new(2);
    f.busy = two_busy, f.order = two_order, f.stride = 2;
    engine_run(&f, r, 2, work, a);
    ck_assert(a[0].state == ENGINE_OFF_DUTY && a[1].state == ENGINE_OFF_DUTY);
    engine_run(&f, r, 0, work, a);
    engine_work_free(work);
}
END_TEST

// A run in pieces, each begun anew where all teams are back and nobody waits, answers as one run.
START_TEST(pieces_make_the_whole) {
    for (unsigned teams = 0; teams < 5; teams++) {
        World w = world_new(teams);
        gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
        gsl_rng_set(rng, teams);
        fill(&w, rng, 1.5, MIXED);
        const EngineShift night[] = {{0, UINT64_MAX}, {3 * TICKS, 0}, {4 * TICKS, UINT64_MAX}};
        EngineFleet fleet = fleet_of(&w, ENGINE_NEVER);
        fleet.shift = night, fleet.shifts = 3;
        EngineAnswer *whole = malloc(MOST * sizeof *whole);
        uint8_t *stop = malloc(MOST);
        memset(stop, 1, MOST);
        engine_run(&fleet, w.request, MOST, w.work, whole);
        size_t pieces = 0;
        engine_begin(&fleet, w.work);
        for (size_t i = 0; i < MOST; pieces++)
            i = engine_run_on(&fleet, w.request, i, MOST, false, stop, w.work, w.answer);
        ck_assert(teams < 3 || pieces > MOST / 20);
        for (size_t i = 0; i < MOST; i++)
            ck_assert(w.answer[i].state == whole[i].state && w.answer[i].team == whole[i].team &&
                      w.answer[i].dispatched == whole[i].dispatched);
        free(stop);
        free(whole);
        gsl_rng_free(rng);
        world_free(&w);
    }
}
END_TEST

// A run that is told of its requests by and by, no instant cut through, answers as one run.
START_TEST(told_by_and_by) {
    for (unsigned teams = 0; teams < 4; teams++) {
        World w = world_new(teams);
        gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
        gsl_rng_set(rng, teams);
        fill(&w, rng, 1.5, MIXED);
        const EngineFleet fleet = fleet_of(&w, TICKS / 2);
        EngineAnswer *whole = malloc(MOST * sizeof *whole);
        engine_run(&fleet, w.request, MOST, w.work, whole);
        engine_begin(&fleet, w.work);
        for (size_t i = 0, to; i < MOST; i = to) {
            to = i + 1 + gsl_rng_uniform_int(rng, 20);
            while (to < MOST && w.request[to].at == w.request[to - 1].at)
                to++;
            to = to < MOST ? to : MOST;
            ck_assert(engine_run_on(&fleet, w.request, i, to, to < MOST, NULL, w.work, w.answer) ==
                      to);
        }
        for (size_t i = 0; i < MOST; i++)
            ck_assert(w.answer[i].state == whole[i].state && w.answer[i].team == whole[i].team &&
                      w.answer[i].dispatched == whole[i].dispatched);
        free(whole);
        gsl_rng_free(rng);
        world_free(&w);
    }
}
END_TEST

int main(void) {
    Suite *suite = suite_create("replay: engine");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, loss_is_erlang_b);
    tcase_add_test(tests, queue_is_erlang_c);
    tcase_add_test(tests, erlang_over_a_grid);
    tcase_add_test(tests, every_request_ends_once);
    tcase_add_test(tests, more_teams_lose_no_more_from_one_base);
    tcase_add_test(tests, nearest_free_team_goes);
    tcase_add_test(tests, urgent_first_then_oldest);
    tcase_add_test(tests, waits_to_the_last_minute_and_no_longer);
    tcase_add_test(tests, only_on_duty_and_only_what_it_takes);
    tcase_add_test(tests, before_the_epoch);
    tcase_add_test(tests, no_team_and_no_request);
    tcase_add_test(tests, pieces_make_the_whole);
    tcase_add_test(tests, told_by_and_by);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
