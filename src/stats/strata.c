// SPDX-License-Identifier: GPL-3.0-or-later
// Durations of periods by stratum.
#include "stats/strata.h"

#include "stats/control.h"
#include "stats/quantile.h"
#include "stats/shift.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const RankStrata no_ranks = {NAN, NAN, NAN, NAN, NAN};
static const double d2 = 1.128;

static size_t strata_of(const ChangeCell *cell) {
    return cell->within ? cell->strata : 1;
}

static Runs part_of(const ChangeCell *cell, size_t stratum) {
    return cell->within ? cell->within[stratum] : cell->minutes;
}

bool strata_any(const ChangeCell *cell) {
    return cell->minutes.k > 0 || (cell->within && cell->total > 0);
}

static bool takes_part(const ChangeCell *cell) {
    return cell->whole && strata_any(cell);
}

double strata_middle(const Runs *part, size_t parts) {
    size_t runs = 0;
    for (size_t k = 0; k < parts; k++)
        runs += part[k].k;
    double *room = malloc((4 * runs + 1) * sizeof *room);
    const double median = room ? quantile_of_runs(runs_together(part, parts, room), 0.5) : NAN;
    free(room);
    return median;
}

double strata_median(const ChangeCell *cell) {
    return cell->minutes.k > 0 ? quantile_of_runs(cell->minutes, 0.5)
           : strata_any(cell)  ? cell->median
                               : NAN;
}

// ---- several periods ----

enum { WHOLE = -1 }; // all strata

// The durations of all periods that take part but one (NULL: of all) in a stratum, together; *room,
// in which they stand, to be freed. It is NULL if memory runs out.
static Runs together(const ChangeSeries *s, int stratum, const ChangeCell *but, double **room) {
    const size_t first = stratum == WHOLE ? 0 : (size_t)stratum;
    const size_t end = stratum == WHOLE ? strata_of(&s->cell[0]) : first + 1;
    Runs *part = malloc((s->k * (end - first) + 1) * sizeof *part), all = {0, NULL, NULL};
    size_t parts = 0, runs = 0;
    for (size_t i = 0; part && i < s->k; i++)
        for (size_t k = first; k < end && takes_part(&s->cell[i]) && &s->cell[i] != but; k++) {
            part[parts++] = part_of(&s->cell[i], k);
            runs += part[parts - 1].k;
        }
    *room = part ? malloc((4 * runs + 1) * sizeof **room) : NULL;
    if (*room)
        all = runs_together(part, parts, *room);
    free(part);
    return all;
}

static double median_of(const ChangeSeries *s, int stratum) {
    double *room;
    const Runs all = together(s, stratum, NULL, &room);
    const double median = room ? quantile_of_runs(all, 0.5) : NAN;
    free(room);
    return median;
}

// ---- tests ----

RankStrata strata_between(const ChangeCell *now, const ChangeCell *then) {
    return now->within ? rank_van_elteren_runs(now->within, then->within, now->strata)
                       : rank_van_elteren_runs(&now->minutes, &then->minutes, 1);
}

StatsInterval strata_shift(const ChangeCell *now, const ChangeCell *then, double confidence) {
    return now->within ? shift_within_runs(now->within, then->within, now->strata, confidence)
                       : shift_within_runs(&now->minutes, &then->minutes, 1, confidence);
}

StatsInterval strata_shift_deviate(const ChangeCell *now, const ChangeCell *then, double z) {
    return now->within ? shift_within_deviate(now->within, then->within, now->strata, z)
                       : shift_within_deviate(&now->minutes, &then->minutes, 1, z);
}

RankStrata strata_against(const ChangeSeries *s, const ChangeCell *cell) {
    const size_t strata = strata_of(cell);
    Runs *others = calloc(strata + 1, sizeof *others);
    double **room = calloc(strata + 1, sizeof *room);
    bool there = others && room;
    for (size_t k = 0; there && k < strata; k++) {
        others[k] = together(s, (int)k, cell, &room[k]);
        there = room[k] != NULL;
    }
    const Runs *own = cell->within ? cell->within : &cell->minutes;
    const RankStrata r = there ? rank_van_elteren_runs(own, others, strata) : no_ranks;
    for (size_t k = 0; room && k < strata; k++)
        free(room[k]);
    free(room);
    free(others);
    return r;
}

// ---- levels ----

// Median of a period's durations, each less its stratum's middle.
static double aligned(const ChangeCell *cell, const double *middle) {
    const size_t strata = strata_of(cell);
    size_t runs = 0;
    for (size_t k = 0; k < strata; k++)
        runs += part_of(cell, k).k;
    Runs *moved = malloc((strata + 1) * sizeof *moved);
    double *room = malloc((runs + 1) * sizeof *room), *value = room, median = NAN;
    if (moved && room) {
        for (size_t k = 0; k < strata; k++) {
            const Runs part = part_of(cell, k);
            moved[k] = (Runs){part.k, value, part.upto};
            for (size_t i = 0; i < part.k; i++)
                *value++ = part.value[i] - middle[k];
        }
        median = strata_middle(moved, strata);
    }
    free(moved);
    free(room);
    return median;
}

void strata_levels(const ChangeSeries *s, double *level) {
    const bool within = s->k > 0 && s->cell[0].within;
    const size_t strata = within ? s->cell[0].strata : 0;
    double *middle = malloc((strata + 1) * sizeof *middle);
    for (size_t k = 0; middle && k < strata; k++)
        middle[k] = median_of(s, (int)k);
    const double usual = within ? median_of(s, WHOLE) : 0;
    for (size_t i = 0; i < s->k; i++) {
        const ChangeCell *cell = &s->cell[i];
        level[i] = !takes_part(cell) || !middle ? NAN
                   : within                     ? usual + aligned(cell, middle)
                                                : strata_median(cell);
    }
    free(middle);
}

// ---- spread ----

// Variance of the mid-rank of one of the durations.
static double rank_variance(Runs all) {
    const double records = runs_size(all);
    double below = 0, squares = 0;
    for (size_t i = 0; i < all.k; i++) {
        const double ties = runs_count(all, i), off = below + (ties + 1) / 2 - (records + 1) / 2;
        squares += ties * off * off;
        below += ties;
    }
    return squares / (records - 1);
}

// Adds to each period's sum of ranks, less what is to be expected, and to its variance.
static bool add_stratum(const ChangeSeries *s, size_t stratum, double *ahead, double *variance) {
    double *room;
    const Runs all = together(s, (int)stratum, NULL, &room);
    const double records = runs_size(all), weight = 1 / (records + 1), one = rank_variance(all);
    for (size_t i = 0; room && i < s->k; i++) {
        const Runs part = part_of(&s->cell[i], stratum);
        const double own = takes_part(&s->cell[i]) ? runs_size(part) : 0;
        if (own == 0 || own == records)
            continue;
        ahead[i] += weight * (rank_sum_runs(part, all) - own * (records + 1) / 2);
        variance[i] += weight * weight * one * own * (1 - own / records);
    }
    free(room);
    return room != NULL;
}

double strata_spread(const ChangeSeries *s) {
    const size_t strata = s->k > 0 ? strata_of(&s->cell[0]) : 0;
    double *ahead = calloc(2 * s->k + 1, sizeof *ahead), spread = NAN;
    bool there = ahead != NULL;
    for (size_t k = 0; there && k < strata; k++)
        there = add_stratum(s, k, ahead, ahead + s->k);
    for (size_t i = 0; there && i < s->k; i++)
        ahead[i] = ahead[s->k + i] > 0 ? ahead[i] / sqrt(ahead[s->k + i]) : NAN;
    if (there)
        spread = control_mean_range(ahead, s->k) / d2;
    free(ahead);
    return spread;
}
