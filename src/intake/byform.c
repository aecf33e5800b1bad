// SPDX-License-Identifier: GPL-3.0-or-later
// Guesses from cells alone. None is more than a guess: a person reads the draft.
#include "intake/byform.h"

#include "intake/stamp.h"
#include "record/when.h"

#include <string.h>

enum { FEWEST = 5 }; // cells that a guess from them alone needs

static bool is_open(const GuessColumn *c) {
    return c->field == FIELD_COUNT && c->guard == GUARD_NONE && !c->event && !c->harm &&
           c->n >= FEWEST;
}

static bool is_taken(const GuessColumns *g, FieldId f) {
    for (unsigned k = 0; k < g->n; k++)
        if (g->columns[k].field == f)
            return true;
    return false;
}

static void take(GuessColumn *c, FieldId f, const char *evidence) {
    c->field = f;
    c->trust = GUESS_GUESS;
    c->evidence = g_strdup(evidence);
}

// ---- stamps ----

// Minutes of a clock time, -1 if the cell is none.
static int clock_minutes(const char *cell) {
    int minute = -1;
    return stamp_clock(cell, strlen(cell), false, &minute) ? minute : -1;
}

// Whether y is not before x, two cells of one row: 1, 0, or -1 if that can't be told. Of two clock
// times the second is the later one if the clock comes to it within half a day.
static int follows(const GuessColumn *a, const char *x, const GuessColumn *b, const char *y) {
    if (a->form == FORM_CLOCK && b->form == FORM_CLOCK) {
        const int from = clock_minutes(x), to = clock_minutes(y);
        return from < 0 || to < 0 ? -1 : (to - from + WHEN_DAY) % WHEN_DAY <= WHEN_DAY / 2;
    }
    const double from = form_number(x), to = form_number(y);
    return from < 0 || to < 0 ? -1 : from <= to;
}

// Share of the rows with both in which the first is not after the second; -1 without any.
static double in_order(const GuessColumn *a, const GuessColumn *b) {
    size_t both = 0, good = 0;
    for (guint i = 0; i < a->source->cells->len; i++) {
        const int order = follows(a, a->source->cells->pdata[i], b, b->source->cells->pdata[i]);
        both += order >= 0;
        good += order == 1;
    }
    return both ? (double)good / (double)both : -1;
}

static bool is_stamp(const GuessColumn *c) {
    return c->form == FORM_STAMP || c->form == FORM_SERIAL || c->form == FORM_CLOCK;
}

// Whether column c can be that phase, by the phases that are known.
static bool fits_between(const GuessColumns *g, const GuessColumn *c, FieldId phase) {
    for (unsigned k = 0; k < g->n; k++) {
        const GuessColumn *other = &g->columns[k];
        if (other == c || other->field < FIELD_requested_at || other->field > FIELD_returned_at ||
            !is_stamp(other))
            continue;
        const double order = other->field < phase ? in_order(other, c) : in_order(c, other);
        if (order >= 0 && order < 0.9)
            return false;
    }
    return true;
}

// Phases that most logs have come first (common practice, no source).
static const FieldId usual[] = {FIELD_requested_at,   FIELD_departed_at,  FIELD_arrived_at,
                                FIELD_handed_over_at, FIELD_accepted_at,  FIELD_returned_at,
                                FIELD_at_patient_at,  FIELD_team_ready_at};

// Open columns of stamps, in the order of their times; the first of two that come in either order.
static GPtrArray *open_stamps(GuessColumns *g) {
    GPtrArray *open = g_ptr_array_new();
    for (unsigned i = 0; i < g->n; i++) {
        GuessColumn *c = &g->columns[i];
        guint at = open->len;
        if (!is_open(c) || !is_stamp(c))
            continue;
        while (at > 0 && in_order(open->pdata[at - 1], c) < 0.9)
            at--;
        g_ptr_array_insert(open, (gint)at, c);
    }
    return open;
}

// The phases, in order, that `n` stamps of one stretch between known phases are: the most usual
// ones of those that fit the first of them. False if there are not so many.
static bool phases_for(const GuessColumns *g, const GuessColumn *first, guint n, bool *chosen) {
    guint found = 0;
    memset(chosen, 0, FIELD_COUNT * sizeof *chosen);
    for (size_t u = 0; u < G_N_ELEMENTS(usual) && found < n; u++)
        if (!is_taken(g, usual[u]) && fits_between(g, first, usual[u]))
            chosen[usual[u]] = true, found++;
    return found == n;
}

// Columns of stamps that no heading explains, by the order of the phases.
static void assign_stamps(GuessColumns *g) {
    GPtrArray *open = open_stamps(g);
    for (guint from = 0, to; from < open->len; from = to) {
        GuessColumn *first = open->pdata[from];
        bool chosen[FIELD_COUNT], others[FIELD_COUNT];
        // the stretch: those that fit the same phases
        for (to = from + 1; to < open->len; to++) {
            phases_for(g, first, G_MAXUINT, chosen);
            phases_for(g, open->pdata[to], G_MAXUINT, others);
            if (memcmp(chosen, others, sizeof chosen) != 0)
                break;
        }
        if (!phases_for(g, first, to - from, chosen))
            continue;
        guint at = from;
        for (int f = FIELD_requested_at; f <= FIELD_returned_at && at < to; f++)
            if (chosen[f])
                take(open->pdata[at++], (FieldId)f,
                     "stamps that lie where this phase does among the others");
    }
    g_ptr_array_unref(open);
}

// The only column of dates that is open gives the day.
static void assign_day(GuessColumns *g) {
    GuessColumn *only = NULL;
    unsigned n = 0;
    for (unsigned i = 0; i < g->n; i++)
        if (is_open(&g->columns[i]) && (g->columns[i].form == FORM_DATE))
            only = &g->columns[i], n++;
    if (n == 1 && !is_taken(g, FIELD_transfer_date))
        take(only, FIELD_transfer_date, "the only dates that no heading explains");
}

// ---- units ----

// A column of few texts that come again and again, which may be units.
static bool may_be_units(const GuessColumn *c) {
    return is_open(c) && c->form == FORM_TEXT && c->values->len >= 3 &&
           c->values->len <= GUESS_MOST_VALUES && 2 * (size_t)c->values->len <= c->n;
}

// Whether most texts of each occur in the other, and hardly ever on the same row.
static bool are_ends(const GuessColumn *a, const GuessColumn *b) {
    guint shared = 0, alike = 0;
    for (guint i = 0; i < a->values->len; i++)
        if (g_ptr_array_find_with_equal_func(b->values, a->values->pdata[i], g_str_equal, NULL))
            shared++;
    for (guint i = 0; i < a->source->cells->len; i++)
        alike += *(const char *)a->source->cells->pdata[i] &&
                 !strcmp(a->source->cells->pdata[i], b->source->cells->pdata[i]);
    return 2 * shared >= MAX(a->values->len, b->values->len) && 20 * alike <= a->source->cells->len;
}

static void assign_units(GuessColumns *g) {
    if (is_taken(g, FIELD_sending_unit) || is_taken(g, FIELD_receiving_unit))
        return;
    for (unsigned i = 0; i < g->n; i++)
        for (unsigned k = i + 1; may_be_units(&g->columns[i]) && k < g->n; k++)
            if (may_be_units(&g->columns[k]) && are_ends(&g->columns[i], &g->columns[k])) {
                take(&g->columns[i], FIELD_sending_unit,
                     "shares its texts with another column, as the two ends do; the first of the "
                     "two");
                take(&g->columns[k], FIELD_receiving_unit,
                     "shares its texts with another column, as the two ends do; the second of the "
                     "two");
                return;
            }
}

// ---- pseudonyms ----

static bool never_repeats(const GuessColumn *c) {
    GHashTable *seen = g_hash_table_new(g_str_hash, g_str_equal);
    bool fresh = true;
    for (guint i = 0; fresh && i < c->source->cells->len; i++) {
        char *cell = c->source->cells->pdata[i];
        fresh = *cell && !strchr(cell, ' ') && g_hash_table_add(seen, cell);
    }
    g_hash_table_unref(seen);
    return fresh;
}

static void assign_id(GuessColumns *g) {
    bool taken = is_taken(g, FIELD_transfer_id);
    for (unsigned i = 0; i < g->n && !taken; i++) {
        GuessColumn *c = &g->columns[i];
        taken = is_open(c) && (c->form == FORM_TEXT || c->form == FORM_WHOLE) && never_repeats(c);
        if (taken)
            take(c, FIELD_transfer_id, "a text of its own on every row");
    }
}

void byform_assign(GuessColumns *g) {
    assign_stamps(g);
    assign_day(g);
    assign_units(g);
    assign_id(g);
}
