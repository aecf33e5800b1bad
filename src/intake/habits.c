// SPDX-License-Identifier: GPL-3.0-or-later
// Habits of writing, counted over the transfers of one log.
#include "intake/habits.h"

#include "base/clip.h"
#include "base/parallel.h"

enum { LINES = 5, HOUR = 60, DISAGREE = 5, HEAD_SHOWN = 60 };

enum { STAMPS = 9 };

typedef struct {
    const Transfers *t;
    const int32_t *at[STAMPS]; // columns of the stamps, NULL where no record has one
    size_t from;
    const Layout *layout;
    uint16_t file;
    uint32_t line;
    Findings *findings;
} Log;

static const FieldId stamps[STAMPS] = {FIELD_requested_at,   FIELD_accepted_at, FIELD_team_ready_at,
                                       FIELD_at_patient_at,  FIELD_departed_at, FIELD_arrived_at,
                                       FIELD_handed_over_at, FIELD_returned_at, FIELD_ended_at};
enum { PHASES = STAMPS - 1 }; // ended_at follows any phase

static int32_t stamp(const Log *log, size_t row, unsigned p) {
    return log->at[p] ? log->at[p][row] : WHEN_UNKNOWN;
}

static void say(const Log *log, FieldId field, const char *code, const char *message) {
    const uint32_t column = field < FIELD_STORED ? log->layout->column_of[field] : 0;
    const Finding f = {log->file,     log->line, column, (int)field,
                       SEVERITY_NOTE, code,      NULL,   message};
    finding_add(log->findings, &f, NULL, 0);
}

bool habits_rounded(size_t n, size_t total, unsigned every) {
    const double chance = 1.0 / every, share = (double)n / (double)MAX(total, 1);
    return total >= HABITS_LEAST && (share - chance) / (1 - chance) >= 0.5 - 1e-9;
}

// What the known stamps of one phase are like.
typedef struct {
    size_t n, fives, halves; // of them, those with such minutes
    size_t after, equal;     // that follow another phase's stamp; that equal it
} PhaseStamps;

static void say_rounded(const Log *log, unsigned p, const PhaseStamps *s) {
    if (habits_rounded(s->halves, s->n, HOUR / 2))
        say(log, stamps[p], "digit-preference",
            finding_text(log->findings,
                         "%zu of %zu times are on the hour or half hour (by chance about 1 in 30); "
                         "they were rounded, so intervals are no more exact than that",
                         s->halves, s->n));
    else if (habits_rounded(s->fives, s->n, 5))
        say(log, stamps[p], "digit-preference",
            finding_text(log->findings,
                         "%zu of %zu times have a minute that 5 divides (by chance about 1 in 5); "
                         "they were rounded, so intervals are no more exact than that",
                         s->fives, s->n));
}

// The stamp of the nearest phase before p that the record has.
static int32_t before(const Log *log, size_t row, unsigned p) {
    while (p-- > 0) {
        const int32_t at = stamp(log, row, p);
        if (at != WHEN_UNKNOWN)
            return at;
    }
    return WHEN_UNKNOWN;
}

static void say_equal(const Log *log, unsigned p, const PhaseStamps *s) {
    if (s->after >= HABITS_LEAST && s->equal * 5 >= s->after * 4)
        say(log, stamps[p], "times-equal",
            finding_text(log->findings,
                         "%zu of %zu times equal the stamp before them, as when one time is "
                         "written for both; their intervals count as 0 minutes",
                         s->equal, s->after));
}

static PhaseStamps look_at_stamps(const Log *log, unsigned p) {
    PhaseStamps s = {0};
    for (size_t i = log->from; log->at[p] && i < log->t->n; i++) {
        const int32_t at = stamp(log, i, p);
        if (at == WHEN_UNKNOWN)
            continue;
        s.n++;
        if (at % 5 == 0) { // whatever the offset from UTC, which is whole quarters of an hour
            s.fives++;
            s.halves += when_to_local(log->layout->style.zone, at) % (HOUR / 2) == 0;
        }
        const int32_t last = p < PHASES ? before(log, i, p) : WHEN_UNKNOWN;
        s.after += last != WHEN_UNKNOWN;
        s.equal += last != WHEN_UNKNOWN && at == last;
    }
    return s;
}

static void look_at_acceptance(const Log *log) {
    const int32_t *departed = transfers_times(log->t, FIELD_departed_at),
                  *accepted = transfers_times(log->t, FIELD_accepted_at);
    size_t n = 0, without = 0;
    GString *lines = g_string_new(NULL);
    for (size_t i = log->from; departed && i < log->t->n; i++) {
        if (departed[i] == WHEN_UNKNOWN)
            continue;
        n++;
        if (accepted && accepted[i] != WHEN_UNKNOWN)
            continue;
        if (without++ < LINES)
            g_string_append_printf(lines, "%s%u", without > 1 ? ", " : "", log->t->line[i]);
    }
    if (without > 0)
        say(log, FIELD_accepted_at, "departed-unaccepted",
            finding_text(
                log->findings, "departures without a known acceptance: %zu of %zu, in line%s %s%s",
                without, n, without > 1 ? "s" : "", lines->str, without > LINES ? ", ..." : ""));
    g_string_free(lines, TRUE);
}

// Whether the known stamps of a record follow each other once those of phases p and q are
// exchanged.
static bool in_order(const Log *log, size_t row, unsigned p, unsigned q) {
    int32_t last = INT32_MIN;
    for (unsigned i = 0; i < PHASES; i++) {
        const int32_t at = stamp(log, row, i == p ? q : i == q ? p : i);
        if (at == WHEN_UNKNOWN)
            continue;
        if (at < last)
            return false;
        last = at;
    }
    return true;
}

// How often the stamps of two phases seem to stand in each other's place.
typedef struct {
    unsigned p, q;
    size_t n, swapped, far; // records with both; that exchange puts in order; by over five minutes
} Swap;

// Records by the set of phases that they have a stamp of, and those out of order.
typedef struct {
    size_t with[1 << PHASES];
    GArray *disordered; // size_t: rows
} Orders;

static void look_at_order(const Log *log, Orders *orders) {
    for (size_t i = log->from; i < log->t->n; i++) {
        unsigned set = 0;
        for (unsigned p = 0; p < PHASES; p++)
            set |= (stamp(log, i, p) != WHEN_UNKNOWN ? 1u : 0) << p;
        orders->with[set]++;
        if (!in_order(log, i, 0, 0))
            g_array_append_val(orders->disordered, i);
    }
}

static Swap count_swaps(const Log *log, const Orders *orders, unsigned p, unsigned q) {
    Swap s = {p, q, 0, 0, 0};
    const unsigned both = 1u << p | 1u << q;
    for (unsigned set = 0; set < G_N_ELEMENTS(orders->with); set++)
        s.n += (set & both) == both ? orders->with[set] : 0;
    for (guint k = 0; k < orders->disordered->len; k++) {
        const size_t row = g_array_index(orders->disordered, size_t, k);
        const int32_t a = stamp(log, row, p), b = stamp(log, row, q);
        if (a == WHEN_UNKNOWN || b == WHEN_UNKNOWN || a <= b || !in_order(log, row, p, q))
            continue;
        s.swapped++;
        s.far += a - b > DISAGREE;
    }
    return s;
}

static char *heading(const Log *log, FieldId field) {
    return clip_text(log->layout->columns[log->layout->column_of[field] - 1].head, HEAD_SHOWN);
}

static void say_swapped(const Log *log, const Swap *s) {
    const FieldId p = stamps[s->p], q = stamps[s->q];
    const uint32_t *column = log->layout->column_of;
    char *head_p = heading(log, p), *head_q = heading(log, q);
    char *todo = log->layout->style.mapped
                     ? g_strdup("exchange the two fields in the mapping")
                     : g_strdup_printf("map \"%s\",,%s, and \"%s\",,%s,", head_p,
                                       field_table[q].name, head_q, field_table[p].name);
    const char *message = finding_text(
        log->findings,
        "%zu of %zu records have %s after %s, and exchanged the two would be in order: columns %u "
        "and %u seem to stand in each other's place; nothing was exchanged; if it is so, %s",
        s->swapped, s->n, field_table[p].name, field_table[q].name, column[p], column[q], todo);
    const Finding f = {log->file,       log->line,         column[q], (int)q,
                       SEVERITY_SEVERE, "columns-swapped", NULL,      message};
    finding_add(log->findings, &f, NULL, 0);
    g_free(todo);
    g_free(head_p);
    g_free(head_q);
}

// The pair of columns, if any, that seem to stand in each other's place: the one that most records
// speak for, the first of equals.
static void find_swap(const Log *log, const Orders *orders) {
    Swap most = {0};
    for (unsigned p = 0; p < PHASES; p++)
        for (unsigned q = p + 1; q < PHASES; q++) {
            const Swap s = count_swaps(log, orders, p, q);
            if (s.n >= HABITS_LEAST && s.swapped * 5 >= s.n * 4 && s.far * 2 >= s.n &&
                s.swapped > most.swapped)
                most = s;
        }
    if (most.swapped > 0)
        say_swapped(log, &most);
}

static void say_of_dates(const Log *log, const RowTimes *times) {
    const size_t n = log->t->n - log->from;
    if (times->dated_before > 0)
        say(log, FIELD_COUNT, "dates-from-before",
            finding_text(log->findings,
                         "clock times without a date of their own took that of the stamp before "
                         "them, or transfer_date, in %" G_GUINT64_FORMAT " of %zu records",
                         times->dated_before, n));
    if (times->next_day > 0)
        say(log, FIELD_COUNT, "midnights",
            finding_text(log->findings,
                         "clock times earlier than the stamp before them were taken as the next "
                         "day's in %" G_GUINT64_FORMAT " of %zu records",
                         times->next_day, n));
}

// The unit of field f that all records of the log have, or 0.
static uint16_t only_unit(const Log *log, FieldId f) {
    const uint16_t *units = transfers_units(log->t, f);
    for (size_t i = log->from; units && i < log->t->n; i++)
        if (units[i] != units[log->from])
            return 0;
    return units ? units[log->from] : 0;
}

static bool has_keeper(const Log *log) {
    const uint16_t *keeper = transfers_units(log->t, FIELD_recorded_by);
    for (size_t i = log->from; keeper && i < log->t->n; i++)
        if (keeper[i] != 0)
            return true;
    return false;
}

static void look_at_keeper(const Log *log) {
    const size_t n = log->t->n - log->from;
    if (n < HABITS_LEAST || has_keeper(log) || only_unit(log, FIELD_sending_unit))
        return;
    const uint16_t to = only_unit(log, FIELD_receiving_unit);
    if (to)
        say(log, FIELD_receiving_unit, "keeper-unsaid",
            finding_text(log->findings,
                         "all %zu records go to %s, from several units: this seems to be its own "
                         "log; as nothing says so, they count as the senders', and what a sender "
                         "logged, too, counts twice",
                         n, (const char *)log->t->units->pdata[to]));
}

// What threads look at side by side.
typedef struct {
    const Log *log;
    Orders orders;
    PhaseStamps stamps[STAMPS];
} Looks;

static void look(unsigned i, void *user) {
    Looks *looks = user;
    if (i == 0)
        look_at_order(looks->log, &looks->orders);
    else
        looks->stamps[i - 1] = look_at_stamps(looks->log, i - 1);
}

void habits_say(const Transfers *t, size_t from, const Layout *layout, const RowTimes *times,
                uint16_t file, uint32_t line, int threads, Findings *findings) {
    Log log = {
        .t = t, .from = from, .layout = layout, .file = file, .line = line, .findings = findings};
    for (unsigned p = 0; p < STAMPS; p++)
        log.at[p] = transfers_times(t, stamps[p]);
    Looks looks = {.log = &log,
                   .orders = {.disordered = g_array_new(FALSE, FALSE, sizeof(size_t))}};
    parallel_each(1 + STAMPS, threads, look, &looks);
    for (unsigned p = 0; p < STAMPS; p++)
        say_rounded(&log, p, &looks.stamps[p]);
    for (unsigned p = 0; p < STAMPS; p++)
        say_equal(&log, p, &looks.stamps[p]);
    if (layout->column_of[FIELD_accepted_at] > 0)
        look_at_acceptance(&log);
    find_swap(&log, &looks.orders);
    g_array_unref(looks.orders.disordered);
    look_at_keeper(&log);
    say_of_dates(&log, times);
}
