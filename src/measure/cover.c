// SPDX-License-Identifier: GPL-3.0-or-later
// Base cover: absences of each unit's teams, counted, bounded, swept and laid over the week.
#include "measure/cover.h"

#include "measure/overlapping.h"
#include "stats/concurrent.h"
#include "stats/mix.h"
#include "stats/overlap.h"
#include "stats/proportion.h"
#include "stats/rate.h"

#include <math.h>
#include <string.h>

enum { YES = CODE_yes_no_YES, NO = CODE_yes_no_NO };

// What one record is to its sending unit.
typedef enum { NO_ABSENCE, MAYBE, INCOMPLETE, WHOLE } Kind;

typedef struct {
    const Transfers *t;
    const Network *network;
    const Cover *cover;
    int32_t low_day, high_day; // days of the period
    double weeks;
    uint8_t *kind;  // by row; NO_ABSENCE outside the period
    uint32_t *rows; // rows that are or may be absences, by sending unit
    size_t *first;  // [u]: where those of unit u begin in rows; [0] = 0, the last one the end
} Data;

// Hours, their squares and the longest of a set of absences.
typedef struct {
    uint64_t n;
    double sum, squares, largest;
} Pile;

static void pile_add(Pile *p, double hours) {
    p->n++;
    p->sum += hours;
    p->squares += hours * hours;
    p->largest = fmax(p->largest, hours);
}

static CoverHours hours_of(const Pile *p, const Data *d) {
    const double confidence = d->cover->confidence;
    CoverHours h = {.absences = p->n};
    h.hours = rate_fay_feuer(p->sum, p->squares, p->largest, 1, confidence);
    h.per_week = rate_fay_feuer(p->sum, p->squares, p->largest, d->weeks, confidence);
    h.per_transfer = rate_fay_feuer(p->sum, p->squares, p->largest, (double)p->n, confidence);
    h.whole_time = h.per_week.estimate / d->cover->weekly_hours;
    return h;
}

static int32_t minutes_away(const Data *d, size_t row) {
    return transfers_minutes(d->t, row, FIELD_team_ready_at, FIELD_returned_at,
                             d->network->cap_away);
}

static Kind kind_of(const Data *d, size_t row) {
    const uint8_t departed = transfers_codes(d->t, FIELD_departed)[row],
                  team = transfers_codes(d->t, FIELD_team)[row];
    if (departed == NO || (team != 0 && team != CODE_team_SENDING_UNIT))
        return NO_ABSENCE;
    if (departed == 0 || team == 0)
        return MAYBE;
    return minutes_away(d, row) >= 0 ? WHOLE : INCOMPLETE;
}

// Hours from the first to the last known stamp of an absence; 0 if they are out of order.
static double least_hours(const Data *d, size_t row) {
    static const FieldId stamps[] = {FIELD_team_ready_at, FIELD_at_patient_at,  FIELD_departed_at,
                                     FIELD_arrived_at,    FIELD_handed_over_at, FIELD_returned_at};
    int32_t first = WHEN_UNKNOWN, last = WHEN_UNKNOWN;
    for (size_t i = 0; i < G_N_ELEMENTS(stamps); i++) {
        const int32_t at = transfers_times(d->t, stamps[i])[row];
        if (at == WHEN_UNKNOWN)
            continue;
        if (last != WHEN_UNKNOWN && at < last)
            return 0;
        first = first == WHEN_UNKNOWN ? at : first;
        last = at;
    }
    const double hours = first == WHEN_UNKNOWN ? 0 : (last - first) / 60.0;
    return hours > d->cover->upper_hours ? 0 : hours;
}

// Upper limit of the hours of a record that is no whole absence, NaN if there is none.
static double most_hours(const Data *d, size_t row) {
    const int32_t known = minutes_away(d, row);
    return known >= 0 ? known / 60.0 : d->cover->upper_hours;
}

static double hour_length(const Data *d, size_t row) {
    return minutes_away(d, row) / 60.0;
}

// ---- hours by group, bounds, shares ----

typedef struct {
    Pile all, grade[CODE_escort_grade_END], second[CODE_second_escort_END], with_second,
        reason[CODE_reason_group_END];
    uint64_t cover[CODE_base_cover_END], out_of_hours[3];
} Sums;

static void add_whole(Sums *s, const Data *d, size_t row) {
    const double hours = hour_length(d, row);
    const uint8_t second = transfers_codes(d->t, FIELD_second_escort)[row];
    pile_add(&s->all, hours);
    pile_add(&s->grade[transfers_codes(d->t, FIELD_escort_grade)[row]], hours);
    pile_add(&s->second[second], hours);
    if (second != 0 && second != CODE_second_escort_NONE)
        pile_add(&s->with_second, hours);
    pile_add(&s->reason[transfers_codes(d->t, FIELD_reason_group)[row]], hours);
}

static void add_row(CoverUnit *u, Sums *s, const Data *d, size_t row) {
    const Kind kind = d->kind[row];
    if (kind == MAYBE) {
        u->maybe++;
        u->hours_at_most += most_hours(d, row);
        u->unbounded += isnan(most_hours(d, row)) ? 1 : 0;
        return;
    }
    u->transfers++;
    s->cover[transfers_codes(d->t, FIELD_base_cover)[row]]++;
    s->out_of_hours[transfers_codes(d->t, FIELD_out_of_hours)[row]]++;
    if (kind == WHOLE) {
        add_whole(s, d, row);
        return;
    }
    u->incomplete++;
    u->hours_at_least += least_hours(d, row);
    u->hours_at_most += most_hours(d, row);
    u->unbounded += isnan(most_hours(d, row)) ? 1 : 0;
}

static void fill_shares(CoverUnit *u, const Sums *s, double confidence) {
    u->out_of_hours = (CoverShare){.events = s->out_of_hours[YES],
                                   .total = s->out_of_hours[YES] + s->out_of_hours[NO],
                                   .unknown = s->out_of_hours[0]};
    u->out_of_hours.share = proportion_wilson((double)u->out_of_hours.events,
                                              (double)u->out_of_hours.total, confidence);
    uint64_t known = 0;
    for (int c = 1; c < CODE_base_cover_END; c++)
        known += s->cover[c];
    for (int c = 0; c < CODE_base_cover_END; c++) {
        u->cover[c] = (CoverShare){.events = c ? s->cover[c] : known - s->cover[1],
                                   .total = known,
                                   .unknown = s->cover[0]};
        const double x = (double)u->cover[c].events, n = (double)known;
        u->cover[c].share = c ? mix_goodman(x, n, CODE_base_cover_END - 1, confidence)
                              : proportion_wilson(x, n, confidence);
    }
}

static void fill_hours(CoverUnit *u, const Sums *s, const Data *d) {
    u->weeks = d->weeks;
    u->all = hours_of(&s->all, d);
    for (int c = 0; c < CODE_escort_grade_END; c++)
        u->by_grade[c] = hours_of(&s->grade[c], d);
    for (int c = 0; c < CODE_second_escort_END; c++)
        u->by_second[c] = hours_of(&s->second[c], d);
    u->with_second = hours_of(&s->with_second, d);
    u->clinical = hours_of(&s->reason[CODE_reason_group_CLINICAL], d);
    u->non_clinical = hours_of(&s->reason[CODE_reason_group_NON_CLINICAL], d);
    u->repatriation = hours_of(&s->reason[CODE_reason_group_REPATRIATION], d);
    u->people_whole_time = u->all.whole_time + u->with_second.whole_time;
    u->longest_absence = s->all.n ? s->all.largest : NAN;
    u->hours_at_least += s->all.sum;
    u->hours_at_most += s->all.sum;
    u->hours_if_alike = s->all.n
                            ? s->all.sum + (double)u->incomplete * (s->all.sum / (double)s->all.n)
                        : u->incomplete ? NAN
                                        : 0;
}

// ---- the week ----

// Sums by local week for the limits of the share of hours out of hours.
typedef struct {
    int32_t first_monday;
    size_t weeks;
    double *all, *out;
} Weeks;

static bool is_out_of_hours(const Network *n, int32_t day, int32_t minute) {
    return n->weekend[when_weekday(day)] || network_is_holiday(n, day) || minute < n->day_starts ||
           minute >= n->day_ends;
}

// Lays a stretch of time over the local hours of the week, in pieces that no hour or end of the
// working day divides; and over the weeks, unless w is NULL.
static void lay(const Data *d, double by_hour[COVER_WEEK_HOURS], const Weeks *w, int32_t start,
                int32_t end) {
    const Network *n = d->network;
    for (int32_t at = start; at < end;) {
        const int32_t local = when_to_local(n->zone, at), day = when_day_of(local),
                      minute = local - day * WHEN_DAY;
        int32_t next = (minute / 60 + 1) * 60;
        if (n->day_starts > minute)
            next = MIN(next, n->day_starts);
        if (n->day_ends > minute)
            next = MIN(next, n->day_ends);
        const int32_t length = MIN(next - minute, end - at);
        by_hour[when_weekday(day) * 24 + minute / 60] += length / 60.0;
        at += length;
        if (!w)
            continue;
        const size_t week = (size_t)((day - w->first_monday) / 7);
        w->all[week] += length;
        w->out[week] += is_out_of_hours(n, day, minute) ? length : 0;
    }
}

static void fill_week(const Data *d, CoverUnit *u, const GArray *start, const GArray *end,
                      const GArray *edges) {
    Weeks w = {.weeks = edges->len - 1};
    w.first_monday =
        when_day_of(when_to_local(d->network->zone, (int32_t)g_array_index(edges, int64_t, 0)));
    w.all = g_new0(double, w.weeks + 1);
    w.out = g_new0(double, w.weeks + 1);
    for (guint i = 0; i < start->len; i++)
        lay(d, u->by_hour, &w, (int32_t)g_array_index(start, int64_t, i),
            (int32_t)g_array_index(end, int64_t, i));
    u->hours_out_of_hours = overlap_ratio(w.weeks, w.all, w.out, d->cover->confidence);
    g_free(w.all);
    g_free(w.out);
}

static void fill_mean_away(const Data *d, CoverUnit *u) {
    double days[7] = {0};
    for (int32_t day = d->low_day; day <= d->high_day; day++)
        days[when_weekday(day)]++;
    for (int h = 0; h < COVER_WEEK_HOURS; h++)
        u->mean_away[h] = days[h / 24] > 0 ? u->by_hour[h] / days[h / 24] : NAN;
}

// ---- how many at once ----

typedef struct {
    double *weekly[CONCURRENT_LEVELS];
} Levels;

static void sweep_unit(CoverUnit *u, const GArray *start, const GArray *end, const GArray *edges,
                       Levels *levels) {
    Concurrent c;
    if (!concurrent_sweep(start->len, (const int64_t *)(void *)start->data,
                          (const int64_t *)(void *)end->data, &c, edges->len - 1,
                          (const int64_t *)(void *)edges->data, levels->weekly))
        return;
    for (int k = 0; k < COVER_AT_ONCE; k++)
        u->at_least[k] += c.at_least[k] / 60;
    u->most_at_once = MAX(u->most_at_once, c.peak);
    u->longest_stretch = fmax(u->longest_stretch, c.longest[0] / 60);
    u->longest_stretch_of_two = fmax(u->longest_stretch_of_two, c.longest[1] / 60);
}

// Lays the times with two or more of a unit's teams away over the week.
static void lay_two(const Data *d, CoverUnit *u, const GArray *start, const GArray *end) {
    int64_t *from = g_new(int64_t, start->len + 1), *to = g_new(int64_t, start->len + 1);
    const size_t n = concurrent_stretches(start->len, (const int64_t *)(void *)start->data,
                                          (const int64_t *)(void *)end->data, 2, from, to);
    for (size_t i = 0; i < n; i++)
        lay(d, u->two_by_hour, NULL, (int32_t)from[i], (int32_t)to[i]);
    g_free(from);
    g_free(to);
}

// The run of d->rows that is the unit's; unit 0: all.
static size_t run_of(const Data *d, uint16_t unit, size_t *end) {
    *end = d->first[unit == 0 ? d->t->units->len : unit + 1u];
    return d->first[unit];
}

static void absences_of(const Data *d, uint16_t unit, GArray *start, GArray *end) {
    g_array_set_size(start, 0);
    g_array_set_size(end, 0);
    size_t last;
    for (size_t i = run_of(d, unit, &last); i < last; i++) {
        const uint32_t row = d->rows[i];
        const int64_t from = transfers_times(d->t, FIELD_team_ready_at)[row],
                      to = transfers_times(d->t, FIELD_returned_at)[row];
        if (d->kind[row] != WHOLE)
            continue;
        g_array_append_val(start, from);
        g_array_append_val(end, to);
    }
}

static GArray *edges_of(const Data *d, const GArray *start, const GArray *end) {
    int64_t from = INT32_MAX, to = INT32_MIN;
    for (guint i = 0; i < start->len; i++) {
        from = MIN(from, g_array_index(start, int64_t, i));
        to = MAX(to, g_array_index(end, int64_t, i));
    }
    return overlapping_weeks(d->network, (int32_t)from, (int32_t)to);
}

// Sweeps the unit (each unit by itself for `all`) and lays its absences over the week.
static void fill_times(const Data *d, CoverUnit *u, guint units) {
    GArray *start = g_array_new(FALSE, FALSE, sizeof(int64_t)),
           *end = g_array_new(FALSE, FALSE, sizeof(int64_t));
    u->hours_out_of_hours = (StatsInterval){NAN, NAN, NAN};
    for (int k = 0; k < COVER_AT_ONCE; k++)
        u->overlapping[k] = (StatsInterval){NAN, NAN, NAN};
    absences_of(d, u->unit, start, end);
    if (start->len > 0) {
        GArray *edges = edges_of(d, start, end);
        Levels levels;
        for (int k = 0; k < CONCURRENT_LEVELS; k++)
            levels.weekly[k] = g_new0(double, edges->len);
        fill_week(d, u, start, end, edges);
        for (guint one = 1; one < units; one++)
            if (u->unit == 0 || u->unit == one) {
                absences_of(d, (uint16_t)one, start, end);
                sweep_unit(u, start, end, edges, &levels);
                lay_two(d, u, start, end);
            }
        for (int k = 0; k < COVER_AT_ONCE; k++)
            u->overlapping[k] = overlap_ratio(edges->len - 1, levels.weekly[0], levels.weekly[k],
                                              d->cover->confidence);
        for (int k = 0; k < CONCURRENT_LEVELS; k++)
            g_free(levels.weekly[k]);
        g_array_unref(edges);
    }
    fill_mean_away(d, u);
    g_array_unref(start);
    g_array_unref(end);
}

// ---- all of it ----

static void find_period(Data *d, int32_t first_day, int32_t end_day) {
    int32_t low = INT32_MAX, high = INT32_MIN;
    for (size_t i = 0; i < d->t->n; i++) {
        const int32_t day = transfers_day(d->t, i, d->network);
        const bool inside = first_day == WHEN_UNKNOWN || (day >= first_day && day < end_day);
        d->kind[i] = (uint8_t)(inside ? kind_of(d, i) : NO_ABSENCE);
        low = MIN(low, day), high = MAX(high, day);
    }
    d->low_day = first_day == WHEN_UNKNOWN ? low : first_day;
    d->high_day = first_day == WHEN_UNKNOWN ? high : end_day - 1;
    d->weeks = d->high_day >= d->low_day ? (d->high_day - d->low_day + 1) / 7.0 : 0;
}

static void order_rows(Data *d) {
    const uint16_t *unit = transfers_units(d->t, FIELD_sending_unit);
    const size_t units = d->t->units->len;
    d->first = g_new0(size_t, units + 1);
    d->rows = g_new0(uint32_t, d->t->n + 1);
    for (size_t i = 0; i < d->t->n; i++)
        d->first[unit[i] + 1] += d->kind[i] != NO_ABSENCE;
    for (size_t u = 0; u < units; u++)
        d->first[u + 1] += d->first[u];
    size_t *at = g_memdup2(d->first, (units + 1) * sizeof *at);
    for (size_t i = 0; i < d->t->n; i++)
        if (d->kind[i] != NO_ABSENCE)
            d->rows[at[unit[i]]++] = (uint32_t)i;
    g_free(at);
}

static void find_upper_limit(Cover *c, const Data *d) {
    int32_t longest = -1;
    for (size_t i = 0; i < d->t->n; i++)
        if (d->kind[i] == WHOLE)
            longest = MAX(longest, minutes_away(d, i));
    const bool cap = d->network->cap_away != INT32_MAX;
    c->upper_basis = cap ? "cap" : longest >= 0 ? "longest" : "none";
    c->upper_hours = cap ? d->network->cap_away / 60.0 : longest >= 0 ? longest / 60.0 : NAN;
}

static CoverUnit *measure_unit(const Data *d, uint16_t unit) {
    CoverUnit *u = g_new0(CoverUnit, 1);
    Sums sums = {0};
    u->unit = unit;
    size_t end = 0;
    for (size_t i = run_of(d, unit, &end); i < end; i++)
        add_row(u, &sums, d, d->rows[i]);
    fill_hours(u, &sums, d);
    fill_shares(u, &sums, d->cover->confidence);
    fill_times(d, u, d->t->units->len);
    return u;
}

static int by_code(gconstpointer a, gconstpointer b, gpointer t) {
    const GPtrArray *units = ((const Transfers *)t)->units;
    return strcmp(units->pdata[*(const uint16_t *)a], units->pdata[*(const uint16_t *)b]);
}

static GArray *senders(const Transfers *t) {
    GArray *list = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    uint8_t *seen = g_malloc0(t->units->len + 1);
    for (size_t i = 0; i < t->n; i++)
        seen[transfers_units(t, FIELD_sending_unit)[i]] = 1;
    for (guint u = 1; u < t->units->len; u++)
        if (seen[u]) {
            const uint16_t unit = (uint16_t)u;
            g_array_append_val(list, unit);
        }
    g_array_sort_with_data(list, by_code, (gpointer)t);
    g_free(seen);
    return list;
}

Cover *cover_measure(const Transfers *t, const Network *network, int32_t first_day, int32_t end_day,
                     double confidence) {
    Cover *c = g_new0(Cover, 1);
    Data d = {.t = t, .network = network, .cover = c};
    c->units = g_ptr_array_new_with_free_func(g_free);
    c->weekly_hours = network->weekly_hours;
    c->confidence = confidence;
    d.kind = g_malloc0(t->n + 1);
    find_period(&d, first_day, end_day);
    order_rows(&d);
    find_upper_limit(c, &d);
    GArray *units = senders(t);
    g_ptr_array_add(c->units, measure_unit(&d, 0));
    for (guint i = 0; i < units->len; i++)
        g_ptr_array_add(c->units, measure_unit(&d, g_array_index(units, uint16_t, i)));
    g_array_unref(units);
    g_free(d.kind);
    g_free(d.rows);
    g_free(d.first);
    return c;
}

void cover_free(Cover *c) {
    if (!c)
        return;
    g_ptr_array_unref(c->units);
    g_free(c);
}
