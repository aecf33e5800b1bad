// SPDX-License-Identifier: GPL-3.0-or-later
// Habits of writing, counted over the transfers of one log.
#include "intake/habits.h"

enum { LINES = 5, HOUR = 60 };

typedef struct {
    const Transfers *t;
    size_t from;
    const Layout *layout;
    uint16_t file;
    uint32_t line;
    Findings *findings;
} Log;

static const FieldId stamps[] = {FIELD_requested_at,   FIELD_accepted_at, FIELD_team_ready_at,
                                 FIELD_at_patient_at,  FIELD_departed_at, FIELD_arrived_at,
                                 FIELD_handed_over_at, FIELD_returned_at, FIELD_ended_at};
enum { STAMPS = G_N_ELEMENTS(stamps), PHASES = STAMPS - 1 }; // ended_at follows any phase

static int32_t stamp(const Log *log, size_t row, unsigned p) {
    const int32_t *at = transfers_times(log->t, stamps[p]);
    return at ? at[row] : WHEN_UNKNOWN;
}

static void say(const Log *log, FieldId field, const char *code, const char *message) {
    const Finding f = {log->file,  log->line,     log->layout->column_of[field],
                       (int)field, SEVERITY_NOTE, code,
                       NULL,       message};
    finding_add(log->findings, &f, NULL, 0);
}

bool habits_rounded(size_t n, size_t total, unsigned every) {
    const double chance = 1.0 / every, share = (double)n / (double)MAX(total, 1);
    return total >= HABITS_LEAST && (share - chance) / (1 - chance) >= 0.5 - 1e-9;
}

static void look_at_minutes(const Log *log, unsigned p) {
    size_t n = 0, fives = 0, halves = 0;
    for (size_t i = log->from; i < log->t->n; i++) {
        const int32_t at = stamp(log, i, p);
        if (at == WHEN_UNKNOWN)
            continue;
        n++;
        fives += at % 5 == 0; // whatever the offset from UTC, which is whole quarters of an hour
        halves += at % 5 == 0 && when_to_local(log->layout->style.zone, at) % (HOUR / 2) == 0;
    }
    if (habits_rounded(halves, n, HOUR / 2))
        say(log, stamps[p], "digit-preference",
            finding_text(log->findings,
                         "%zu of %zu times are on the hour or half hour (by chance about 1 in 30); "
                         "they were rounded, so intervals are no more exact than that",
                         halves, n));
    else if (habits_rounded(fives, n, 5))
        say(log, stamps[p], "digit-preference",
            finding_text(log->findings,
                         "%zu of %zu times have a minute that 5 divides (by chance about 1 in 5); "
                         "they were rounded, so intervals are no more exact than that",
                         fives, n));
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

static void look_at_equals(const Log *log, unsigned p) {
    size_t n = 0, equal = 0;
    for (size_t i = log->from; i < log->t->n; i++) {
        const int32_t at = stamp(log, i, p);
        const int32_t last = at == WHEN_UNKNOWN ? at : before(log, i, p);
        n += last != WHEN_UNKNOWN;
        equal += last != WHEN_UNKNOWN && at == last;
    }
    if (n >= HABITS_LEAST && equal * 5 >= n * 4)
        say(log, stamps[p], "times-equal",
            finding_text(log->findings,
                         "%zu of %zu times equal the stamp before them, as when one time is "
                         "written for both; their intervals count as 0 minutes",
                         equal, n));
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

void habits_say(const Transfers *t, size_t from, const Layout *layout, uint16_t file, uint32_t line,
                Findings *findings) {
    const Log log = {t, from, layout, file, line, findings};
    for (unsigned p = 0; p < STAMPS; p++)
        if (transfers_times(t, stamps[p]))
            look_at_minutes(&log, p);
    for (unsigned p = 1; p < PHASES; p++)
        if (transfers_times(t, stamps[p]))
            look_at_equals(&log, p);
    if (layout->column_of[FIELD_accepted_at] > 0)
        look_at_acceptance(&log);
}
