// SPDX-License-Identifier: GPL-3.0-or-later
// Base cover: absences of each unit's teams, counted, bounded, swept and laid over the week.
#include "measure/cover.h"

#include "measure/overlapping.h"
#include "stats/concurrent.h"
#include "stats/mix.h"
#include "stats/order.h"
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

// ---- the week, and how many at once ----

// Whole minutes of absences, by hour of the week and by week: of one unit or of all. Weeks are
// those of all units' absences.
typedef struct {
    GArray *edges;                      // int64_t: where each week begins, and the end of the last
    int32_t first_monday;               // day
    double *away, *out;                 // by week: away; out of hours
    double *at_once[CONCURRENT_LEVELS]; // by week
    uint64_t by_hour[COVER_WEEK_HOURS], two_by_hour[COVER_WEEK_HOURS]; // away; two or more
} Times;

static void times_open(Times *t, const Data *d, GArray *edges) {
    const int32_t first = (int32_t)g_array_index(edges, int64_t, 0);
    *t = (Times){.edges = edges,
                 .first_monday = when_day_of(when_to_local(d->network->zone, first))};
    t->away = g_new0(double, (2 + CONCURRENT_LEVELS) * (size_t)edges->len);
    t->out = t->away + edges->len;
    for (guint k = 0; k < CONCURRENT_LEVELS; k++)
        t->at_once[k] = t->out + (k + 1) * (size_t)edges->len;
}

static void times_close(Times *t) {
    g_free(t->away);
}

static void times_empty(Times *t) {
    memset(t->away, 0, (2 + CONCURRENT_LEVELS) * (size_t)t->edges->len * sizeof *t->away);
    memset(t->by_hour, 0, sizeof t->by_hour);
    memset(t->two_by_hour, 0, sizeof t->two_by_hour);
}

// Whole minutes add up exactly, in whatever order.
static void times_add(Times *t, const Times *more) {
    for (size_t i = 0; i < (2 + CONCURRENT_LEVELS) * (size_t)t->edges->len; i++)
        t->away[i] += more->away[i];
    for (int h = 0; h < COVER_WEEK_HOURS; h++) {
        t->by_hour[h] += more->by_hour[h];
        t->two_by_hour[h] += more->two_by_hour[h];
    }
}

static bool is_out_of_hours(const Network *n, int32_t day, int32_t minute) {
    return n->weekend[when_weekday(day)] || network_is_holiday(n, day) || minute < n->day_starts ||
           minute >= n->day_ends;
}

// Lays a stretch of time over the local hours of the week, in pieces that no hour or end of the
// working day divides; and, if it is an absence, over the weeks of t.
static void lay(const Data *d, uint64_t by_hour[COVER_WEEK_HOURS], Times *t, int32_t start,
                int32_t end) {
    const Network *n = d->network;
    const int32_t ahead = when_to_local(n->zone, start) - start;
    // clocks do not change twice within a day
    const bool steady = end - start < WHEN_DAY && when_to_local(n->zone, end) - end == ahead;
    for (int32_t at = start; at < end;) {
        const int32_t local = steady ? at + ahead : when_to_local(n->zone, at),
                      day = when_day_of(local), minute = local - day * WHEN_DAY;
        int32_t next = (minute / 60 + 1) * 60;
        if (n->day_starts > minute)
            next = MIN(next, n->day_starts);
        if (n->day_ends > minute)
            next = MIN(next, n->day_ends);
        const int32_t length = MIN(next - minute, end - at);
        by_hour[when_weekday(day) * 24 + minute / 60] += (uint64_t)length;
        at += length;
        if (!t)
            continue;
        const size_t week = (size_t)((day - t->first_monday) / 7);
        t->away[week] += length;
        t->out[week] += is_out_of_hours(n, day, minute) ? length : 0;
    }
}

// Absences that have a length: their starts and their ends, each in order.
typedef struct {
    size_t n;
    int64_t *start, *end;
    int32_t from, to; // from the first one's start to the last one's end, those of no length too
    bool any;
} Absences;

// The run of d->rows that is the unit's; unit 0: all.
static size_t run_of(const Data *d, uint16_t unit, size_t *end) {
    *end = d->first[unit == 0 ? d->t->units->len : unit + 1u];
    return d->first[unit];
}

// Which start belongs to which end makes no difference to how many are away when.
static Absences absences_of(const Data *d, uint16_t unit) {
    size_t last, first = run_of(d, unit, &last);
    const int32_t *start = transfers_times(d->t, FIELD_team_ready_at),
                  *end = transfers_times(d->t, FIELD_returned_at);
    Absences a = {.start = g_new(int64_t, last - first + 1),
                  .end = g_new(int64_t, last - first + 1),
                  .from = INT32_MAX,
                  .to = INT32_MIN};
    for (size_t i = first; i < last; i++) {
        const uint32_t row = d->rows[i];
        if (d->kind[row] != WHOLE)
            continue;
        a.any = true;
        a.from = MIN(a.from, start[row]);
        a.to = MAX(a.to, end[row]);
        a.start[a.n] = start[row];
        a.end[a.n] = end[row];
        a.n += end[row] > start[row];
    }
    order_settle(a.start, a.n);
    order_settle(a.end, a.n);
    return a;
}

static void absences_clear(Absences *a) {
    g_free(a->start);
    g_free(a->end);
}

static void sweep(const Absences *a, CoverUnit *u, Times *t) {
    Concurrent c;
    if (!concurrent_sweep(a->n, a->start, a->end, &c, t->edges->len - 1,
                          (const int64_t *)(void *)t->edges->data, t->at_once))
        return;
    for (int k = 0; k < COVER_AT_ONCE; k++)
        u->at_least[k] = c.at_least[k] / 60;
    u->most_at_once = c.peak;
    u->longest_stretch = c.longest[0] / 60;
    u->longest_stretch_of_two = c.longest[1] / 60;
}

// Lays a unit's absences, and the times with two or more of its teams away, over the week.
static void lay_all(const Data *d, const Absences *a, Times *t) {
    for (size_t i = 0; i < a->n; i++)
        lay(d, t->by_hour, t, (int32_t)a->start[i], (int32_t)a->end[i]);
    int64_t *from = g_new(int64_t, a->n + 1), *to = g_new(int64_t, a->n + 1);
    const size_t n = concurrent_stretches(a->n, a->start, a->end, 2, from, to);
    for (size_t i = 0; i < n; i++)
        lay(d, t->two_by_hour, NULL, (int32_t)from[i], (int32_t)to[i]);
    g_free(from);
    g_free(to);
}

static void fill_mean_away(const Data *d, CoverUnit *u) {
    double days[7] = {0};
    for (int32_t day = d->low_day; day <= d->high_day; day++)
        days[when_weekday(day)]++;
    for (int h = 0; h < COVER_WEEK_HOURS; h++)
        u->mean_away[h] = days[h / 24] > 0 ? u->by_hour[h] / days[h / 24] : NAN;
}

// What the times come to over the weeks from the first absence to the last one.
static void fill_times(const Data *d, CoverUnit *u, const Times *t, int32_t from, int32_t to) {
    const int32_t day = when_day_of(when_to_local(d->network->zone, from));
    const size_t first = (size_t)((day - t->first_monday) / 7);
    size_t weeks = 0;
    while (g_array_index(t->edges, int64_t, first + weeks) < to)
        weeks++;
    u->hours_out_of_hours =
        overlap_ratio(weeks, t->away + first, t->out + first, d->cover->confidence);
    for (int k = 0; k < COVER_AT_ONCE; k++)
        u->overlapping[k] = overlap_ratio(weeks, t->at_once[0] + first, t->at_once[k] + first,
                                          d->cover->confidence);
    for (int h = 0; h < COVER_WEEK_HOURS; h++) {
        u->by_hour[h] = (double)t->by_hour[h] / 60;
        u->two_by_hour[h] = (double)t->two_by_hour[h] / 60;
    }
}

// Of `all`: each unit by itself, summed.
static void add_at_once(CoverUnit *all, const CoverUnit *u) {
    for (int k = 0; k < COVER_AT_ONCE; k++)
        all->at_least[k] += u->at_least[k];
    all->most_at_once = MAX(all->most_at_once, u->most_at_once);
    all->longest_stretch = fmax(all->longest_stretch, u->longest_stretch);
    all->longest_stretch_of_two = fmax(all->longest_stretch_of_two, u->longest_stretch_of_two);
}

// Sweeps each unit's absences by themselves and lays them over the week. by_index: the units by
// their index, 0 for `all`; NULL: it sent nothing.
static void measure_times(const Data *d, CoverUnit *const *by_index) {
    Absences all = absences_of(d, 0);
    if (all.any) {
        GArray *edges = overlapping_weeks(d->network, all.from, all.to);
        Times total, own;
        times_open(&total, d, edges);
        times_open(&own, d, edges);
        for (guint unit = 1; unit < d->t->units->len; unit++) {
            Absences a = absences_of(d, (uint16_t)unit);
            if (a.any && by_index[unit]) {
                times_empty(&own);
                sweep(&a, by_index[unit], &own);
                lay_all(d, &a, &own);
                fill_times(d, by_index[unit], &own, a.from, a.to);
                times_add(&total, &own);
                add_at_once(by_index[0], by_index[unit]);
            }
            absences_clear(&a);
        }
        fill_times(d, by_index[0], &total, all.from, all.to);
        times_close(&total);
        times_close(&own);
        g_array_unref(edges);
    }
    absences_clear(&all);
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
    u->hours_out_of_hours = (StatsInterval){NAN, NAN, NAN};
    for (int k = 0; k < COVER_AT_ONCE; k++)
        u->overlapping[k] = (StatsInterval){NAN, NAN, NAN};
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

static void measure_units(const Data *d, GPtrArray *list) {
    CoverUnit **by_index = g_new0(CoverUnit *, d->t->units->len + 1);
    GArray *units = senders(d->t);
    g_ptr_array_add(list, by_index[0] = measure_unit(d, 0));
    for (guint i = 0; i < units->len; i++) {
        const uint16_t unit = g_array_index(units, uint16_t, i);
        g_ptr_array_add(list, by_index[unit] = measure_unit(d, unit));
    }
    measure_times(d, by_index);
    for (guint i = 0; i < list->len; i++)
        fill_mean_away(d, list->pdata[i]);
    g_array_unref(units);
    g_free(by_index);
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
    measure_units(&d, c->units);
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
