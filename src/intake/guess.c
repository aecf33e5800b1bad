// SPDX-License-Identifier: GPL-3.0-or-later
// Each column is scored against each field by its heading and by its cells; the best pairs win.
#include "intake/guess.h"

#include "intake/byform.h"
#include "intake/eventlist.h"
#include "intake/guard.h"
#include "intake/show.h"
#include "intake/vocabulary.h"

#include <string.h>

// Whether the heading is a word for a unit, and the cells come again and again as units' names do:
// then capitalised words are no persons.
static bool names_units(const GuessColumn *c) {
    double best = 0, name[FIELD_STORED];
    vocabulary_headings(c->source->head, name);
    for (int f = 0; f < FIELD_STORED; f++)
        if (field_table[f].kind == KIND_UNIT)
            best = MAX(best, name[f]);
    return best >= 0.95 && 2 * (size_t)c->values->len <= c->n;
}

static void look_at(GuessColumn *c) {
    GHashTable *seen = g_hash_table_new(g_str_hash, g_str_equal);
    GuardColumn tally = {0};
    uint32_t line;
    c->values = g_ptr_array_new();
    for (guint i = 0; i < c->source->cells->len; i++) {
        char *cell = c->source->cells->pdata[i];
        if (*cell == 0)
            continue;
        c->n++;
        if (c->values->len <= GUESS_MOST_VALUES && g_hash_table_add(seen, cell))
            g_ptr_array_add(c->values, cell);
        const GuardSight sight = guard_look(cell, strlen(cell));
        guard_add(&tally, &sight, i + 1);
    }
    g_hash_table_unref(seen);
    c->form = form_of_column(c->source->cells);
    c->guard = guard_heading(c->source->head, strlen(c->source->head));
    const bool stamps = c->form != FORM_TEXT;
    if (c->guard == GUARD_NONE && !(stamps && c->form != FORM_WHOLE))
        c->guard = guard_verdict(&tally, &line);
    if (c->guard == GUARD_NAME && guard_heading(c->source->head, strlen(c->source->head)) == 0 &&
        names_units(c))
        c->guard = GUARD_NONE;
}

static char separator_of(const GuessColumn *c) {
    if (c->separator)
        return c->separator;
    return eventlist_separator(c->values);
}

// Share of the cells that a list of codes knows.
static double known_share(const GuessColumn *c, const CodeList *list) {
    double sum = 0;
    const bool events = list == field_table[FIELD_events].codes;
    char separator = 0;
    if (events)
        separator = separator_of(c);
    for (guint i = 0; i < c->values->len; i++) {
        double fit;
        if (events && eventlist_is(c->values->pdata[i], separator))
            sum += 1;
        else if (vocabulary_value(list, c->values->pdata[i], &fit))
            sum += fit;
    }
    return c->values->len ? sum / c->values->len : 0;
}

static bool are_ages(const GuessColumn *c) {
    return c->form == FORM_WHOLE;
}

// How well the cells fit a field, 0..1.
static double cells_fit(const GuessColumn *c, FieldId f) {
    const bool many = c->values->len > GUESS_MOST_VALUES;
    switch (field_table[f].kind) {
    case KIND_TIME: // a date alone may be the half of one, if its heading says so
        if (c->form == FORM_DATE)
            return 0.8;
        return c->form == FORM_STAMP || c->form == FORM_SERIAL || c->form == FORM_CLOCK ? 1 : 0;
    case KIND_DATE:
        return c->form == FORM_DATE || c->form == FORM_SERIAL_DAY ? 1 : 0;
    case KIND_NUMBER:
        return c->form == FORM_WHOLE || c->form == FORM_DECIMAL ? 1 : 0;
    case KIND_ID:
        return (c->form == FORM_TEXT || c->form == FORM_WHOLE) &&
                       (many || 2 * (size_t)c->values->len > c->n)
                   ? 1
                   : 0.3;
    case KIND_UNIT:
        if (c->form != FORM_TEXT || many)
            return 0;
        return known_share(c, field_table[FIELD_sending_area].codes) > 0.6 ? 0 : 1; // wards
    case KIND_EVENTS:
    case KIND_CODE:
        break;
    }
    if (c->form != FORM_TEXT && c->form != FORM_WHOLE)
        return 0;
    if (f == FIELD_age_band && are_ages(c))
        return 1;
    return many && f != FIELD_events ? 0 : known_share(c, field_table[f].codes);
}

// Whether a text says that nothing happened.
static bool is_nothing(const char *text) {
    static const char *const words[] = {" no event ",    " no events ",    " none ",
                                        " no incident ", " no incidents ", " no problem ",
                                        " no problems ", " uneventful ",   " nil "};
    char *plain = vocabulary_plain(text, strlen(text));
    bool is = false;
    for (size_t i = 0; i < G_N_ELEMENTS(words); i++)
        is = is || !strcmp(plain, words[i]);
    g_free(plain);
    return is;
}

static bool is_yes_no(const GuessColumn *c) {
    if (c->values->len == 0 || c->values->len > 4)
        return false;
    return known_share(c, field_table[FIELD_ventilated].codes) > 0.95;
}

// Whether most records have a yes: what is there or was done, no event.
static bool is_mostly_yes(const GuessColumn *c) {
    size_t yes = 0;
    double fit;
    for (guint i = 0; i < c->source->cells->len; i++)
        yes += vocabulary_value(field_table[FIELD_ventilated].codes, c->source->cells->pdata[i],
                                &fit) == CODE_yes_no_YES;
    return 2 * yes > c->source->cells->len;
}

static bool may_be_event(const GuessColumn *c) {
    return is_yes_no(c) && !is_mostly_yes(c);
}

// Event category that a heading names, 0 if none.
static uint8_t event_category(const char *head, double *fit) {
    return vocabulary_value(field_table[FIELD_events].codes, head, fit);
}

typedef struct {
    unsigned column;
    FieldId field;
    double name, fit, score;
} Pair;

static int by_score(gconstpointer a, gconstpointer b) {
    const Pair *x = a, *y = b;
    if (x->score != y->score)
        return x->score > y->score ? -1 : 1;
    if (x->column != y->column)
        return x->column < y->column ? -1 : 1;
    return (x->field > y->field) - (x->field < y->field);
}

static GuessTrust trust_of(const Pair *p, double rival) {
    if (p->name >= 0.95 && p->fit >= 0.9)
        return rival < 0.9 ? GUESS_CERTAIN : GUESS_LIKELY;
    if (p->name >= 0.6 && p->fit >= 0.7)
        return GUESS_LIKELY;
    return p->score >= 0.4 ? GUESS_GUESS : GUESS_NONE;
}

// Best other name that a column's heading could be: another field's, or an event's.
static double rival_of(const GuessColumns *g, const Pair *p) {
    const char *head = g->columns[p->column].source->head;
    double best = 0, event, name[FIELD_STORED];
    vocabulary_headings(head, name);
    for (int f = 0; f < FIELD_STORED; f++)
        if (f != (int)p->field && name[f] > best &&
            cells_fit(&g->columns[p->column], (FieldId)f) >= 0.9)
            best = name[f];
    if (may_be_event(&g->columns[p->column]) && event_category(head, &event))
        best = MAX(best, event);
    return best;
}

// All pairs of a column and a field that its heading or its cells speak for.
static GArray *pairs_of(const GuessColumns *g) {
    GArray *pairs = g_array_new(FALSE, FALSE, sizeof(Pair));
    for (unsigned c = 0; c < g->n; c++) {
        const GuessColumn *column = &g->columns[c];
        double name[FIELD_STORED];
        vocabulary_headings(column->source->head, name);
        for (int f = 0; column->guard == GUARD_NONE && f < FIELD_STORED; f++) {
            Pair p = {c, (FieldId)f, name[f], 0, 0};
            const FieldKind kind = field_table[f].kind;
            const guint least = f == FIELD_sex ? 2 : 3; // different values that say what they are
            if (p.name == 0 && (kind != KIND_CODE || column->values->len < least ||
                                (f == FIELD_age_band && are_ages(column))))
                continue; // whole numbers may be anything
            p.fit = column->n == 0 ? 0.5 : cells_fit(column, (FieldId)f);
            if (p.fit == 0 && (p.name < 0.95 || kind == KIND_TIME || kind == KIND_NUMBER))
                continue;
            p.score = 0.6 * p.name + 0.4 * p.fit;
            if (p.name == 0) // by its cells alone
                p.score = p.fit >= 0.9 ? 0.4 * p.fit + 0.05 : 0;
            if (p.score >= 0.4)
                g_array_append_val(pairs, p);
        }
    }
    g_array_sort(pairs, by_score);
    return pairs;
}

static void assign(GuessColumns *g) {
    GArray *pairs = pairs_of(g);
    typedef enum { DATE = 1, CLOCK = 2, WHOLE = DATE | CLOCK } Taken; // halves of a time
    uint8_t taken[FIELD_COUNT] = {0};
    for (guint i = 0; i < pairs->len; i++) {
        const Pair *p = &g_array_index(pairs, Pair, i);
        GuessColumn *c = &g->columns[p->column];
        const Taken half = c->form == FORM_DATE ? DATE : c->form == FORM_CLOCK ? CLOCK : WHOLE;
        const bool time = field_table[p->field].kind == KIND_TIME;
        if (p->field == FIELD_events && (p->fit >= 0.5 || p->name >= 0.95))
            taken[p->field] = 0; // events of several columns add up
        if (c->field != FIELD_COUNT || c->event || (taken[p->field] & (time ? half : WHOLE)))
            continue;
        const double rival = rival_of(g, p);
        double event = 0;
        const uint8_t category = may_be_event(c) ? event_category(c->source->head, &event) : 0;
        if (category && event > p->name) { // a wide column of one event is the better reading
            c->event = true;
            c->category = category;
            c->name = event;
            c->trust = event >= 0.95 ? GUESS_LIKELY : GUESS_GUESS;
            continue;
        }
        taken[p->field] = (uint8_t)(taken[p->field] | (time ? half : WHOLE));
        c->field = p->field;
        c->name = p->name;
        c->fit = p->fit;
        c->trust = trust_of(p, rival);
    }
    g_array_unref(pairs);
}

// Wide yes/no columns that no field took, and a column that grades harm.
static void assign_events(GuessColumns *g) {
    for (unsigned i = 0; i < g->n; i++) {
        GuessColumn *c = &g->columns[i];
        if (c->guard != GUARD_NONE || c->field != FIELD_COUNT || c->event)
            continue;
        double fit = 0;
        const uint8_t category =
            may_be_event(c) || c->n == 0 ? event_category(c->source->head, &fit) : 0;
        char *plain = vocabulary_plain(c->source->head, strlen(c->source->head));
        if (is_nothing(c->source->head) && is_yes_no(c)) {
            c->event = true;
            c->name = 1;
            c->trust = GUESS_LIKELY;
        } else if (category) {
            c->event = true;
            c->category = category;
            c->name = fit;
            c->trust = fit >= 0.95 ? GUESS_LIKELY : GUESS_GUESS;
        } else if (strstr(plain, " harm ") && known_share(c, &field_harm) > 0.6) {
            c->harm = true;
            c->trust = GUESS_LIKELY;
        }
        g_free(plain);
    }
}

static char *evidence_of(const GuessColumn *c) {
    if (c->evidence)
        return g_strdup(c->evidence);
    if (c->guard != GUARD_NONE)
        return g_strdup_printf("seems to hold %s: skipped unread", guard_word(c->guard));
    if (c->event && c->n == 0)
        return g_strdup("no cells yet; heading names an event, the word for yes is that of the "
                        "other columns");
    if (c->event)
        return g_strdup_printf("yes/no column whose heading names an event%s",
                               c->name >= 0.95 ? "" : " among other words");
    if (c->harm)
        return g_strdup("degrees of harm");
    if (c->field == FIELD_COUNT)
        return g_strdup(c->n == 0 ? "no cells: nothing to tell by; skipped unread"
                                  : "nothing fits: skipped unread unless you name a field");
    return g_strdup_printf("heading %s; cells %s",
                           c->name >= 1      ? "is a word for it"
                           : c->name >= 0.95 ? "is a word for it with a filler"
                           : c->name > 0     ? "holds a word for it"
                                             : "says nothing",
                           c->fit >= 0.9   ? "fit"
                           : c->fit >= 0.5 ? "mostly fit"
                                           : "hardly fit");
}

static void add(GPtrArray *out, unsigned column, const char *source, const char *field,
                const char *value, GuessTrust trust, char *evidence) {
    Guess *g = g_new0(Guess, 1);
    *g = (Guess){column, g_strdup(source), field, g_strdup(value), trust, evidence};
    g_ptr_array_add(out, g);
}

// Words for a person who is to find the code.
static char *which_code(const CodeList *list) {
    char *names = vocabulary_codes(list),
         *text = g_strdup_printf("no code found; write one of %s, or leave it unknown", names);
    g_free(names);
    return text;
}

static bool is_no(const char *cell) {
    double fit;
    return vocabulary_value(field_table[FIELD_ventilated].codes, cell, &fit) == CODE_yes_no_NO;
}

// Rows for the cells of a column that its list of codes does not know as they stand.
static void add_values(GPtrArray *out, unsigned column, const GPtrArray *values, const char *field,
                       const CodeList *list, GHashTable *words) {
    for (guint i = 0; values->len <= GUESS_MOST_VALUES && i < values->len; i++) {
        const char *cell = values->pdata[i];
        double fit;
        if (field_code(list, cell, strlen(cell)) || !show_value(cell, strlen(cell), words) ||
            (list == field_table[FIELD_age_band].codes && show_old_age(cell, strlen(cell))) ||
            (list == field_table[FIELD_events].codes && eventlist_is(cell, ';')))
            continue;
        if (list == field_table[FIELD_events].codes && is_nothing(cell)) {
            add(out, column, cell, field, "none", GUESS_LIKELY, g_strdup("a word for no event"));
            continue;
        }
        if (list == field_table[FIELD_events].codes && is_no(cell)) {
            add(out, column, cell, field, "none", GUESS_LIKELY, g_strdup("no: nothing happened"));
            continue;
        }
        const uint8_t code = vocabulary_value(list, cell, &fit);
        add(out, column, cell, field, code ? field_code_text(list, code) : NULL,
            code == 0    ? GUESS_NONE
            : fit >= 0.9 ? GUESS_LIKELY
                         : GUESS_GUESS,
            code == 0
                ? which_code(list)
                : g_strdup(fit >= 0.9 ? "a word for this code" : "holds a word for this code"));
    }
}

// The word for yes of the first column of an event that has cells, NULL if there is none.
static const char *tick_of(const GuessColumns *g) {
    double fit;
    for (unsigned k = 0; k < g->n; k++)
        for (guint i = 0; g->columns[k].event && i < g->columns[k].values->len; i++)
            if (vocabulary_value(field_table[FIELD_ventilated].codes,
                                 g->columns[k].values->pdata[i], &fit) == CODE_yes_no_YES)
                return g->columns[k].values->pdata[i];
    return NULL;
}

static void add_event_column(GPtrArray *out, const GuessColumns *g, unsigned column) {
    const GuessColumn *c = &g->columns[column];
    const CodeList *list = field_table[FIELD_ventilated].codes;
    const char *tick = c->n == 0 ? tick_of(g) : NULL;
    if (c->n == 0)
        add(out, column, tick, tick ? "events" : NULL,
            tick ? field_code_text(field_table[FIELD_events].codes, c->category) : NULL,
            tick ? GUESS_GUESS : GUESS_NONE,
            tick ? evidence_of(c) : g_strdup("no cells: nothing to tell by; skipped unread"));
    for (guint i = 0; i < c->values->len; i++) {
        double fit;
        const uint8_t code = vocabulary_value(list, c->values->pdata[i], &fit);
        const char *value = NULL;
        if (code == CODE_yes_no_YES && c->category)
            value = field_code_text(field_table[FIELD_events].codes, c->category);
        else if (code == (c->category ? CODE_yes_no_NO : CODE_yes_no_YES))
            value = "none";
        add(out, column, c->values->pdata[i], "events", value, code ? c->trust : GUESS_NONE,
            evidence_of(c));
    }
}

static bool is_clock(const GuessColumn *c) {
    return c->form == FORM_CLOCK;
}

// What columns a time has.
typedef enum { NO_COLUMN, CLOCK_ALONE, OTHERS } TimeColumns;

static TimeColumns columns_of(const GuessColumns *g, FieldId field) {
    TimeColumns has = NO_COLUMN;
    for (unsigned k = 0; k < g->n; k++)
        if (g->columns[k].field == field)
            has = is_clock(&g->columns[k]) && has != OTHERS ? CLOCK_ALONE : OTHERS;
    return has;
}

// Fields that a date column also gives the date of: the first that is read from a clock alone, and
// those after it up to one with a date of its own, since any of them may be blank.
static void add_shared_date(GPtrArray *out, const GuessColumns *g, unsigned column,
                            GuessTrust trust) {
    bool begun = false;
    for (int f = FIELD_requested_at; f <= FIELD_returned_at; f++) {
        const TimeColumns has = columns_of(g, (FieldId)f);
        if (begun && has == OTHERS)
            return;
        if (has != CLOCK_ALONE)
            continue;
        add(out, column, NULL, field_table[f].name, "date", MIN(trust, GUESS_LIKELY),
            g_strdup("the date of a time that has only a clock"));
        begun = true;
    }
}

static void add_column(GPtrArray *out, const GuessColumns *g, unsigned i) {
    const GuessColumn *c = &g->columns[i];
    if (c->event) {
        add_event_column(out, g, i);
        return;
    }
    if (c->harm) {
        add(out, i, NULL, "harm", NULL, c->trust, evidence_of(c));
        add_values(out, i, c->values, "harm", &field_harm, g->words);
        return;
    }
    const char *field = c->field == FIELD_COUNT ? NULL : field_table[c->field].name;
    const bool time = field && field_table[c->field].kind == KIND_TIME;
    const char *part = time && is_clock(c) ? "clock" : time && c->form == FORM_DATE ? "date" : NULL;
    add(out, i, NULL, field, part, c->trust, evidence_of(c));
    if (!field)
        return;
    if (c->field == FIELD_transfer_date)
        add_shared_date(out, g, i, c->trust);
    if (field_table[c->field].kind == KIND_CODE && !(c->field == FIELD_age_band && are_ages(c)))
        add_values(out, i, c->values, field, field_table[c->field].codes, g->words);
    if (c->field == FIELD_events) {
        GPtrArray *items = eventlist_items(c->values, separator_of(c));
        add_values(out, i, items, field, field_table[FIELD_events].codes, g->words);
        g_ptr_array_unref(items);
    }
}

static void free_guess(gpointer data) {
    Guess *g = data;
    g_free(g->source_value);
    g_free(g->value);
    g_free(g->evidence);
    g_free(g);
}

GPtrArray *guess_mapping(const Sample *sample) {
    GuessColumns g = {g_new0(GuessColumn, sample->n_columns + 1), sample->n_columns,
                      vocabulary_words()};
    for (unsigned c = 0; c < g.n; c++) {
        g.columns[c].source = &sample->columns[c];
        g.columns[c].field = FIELD_COUNT;
        g.columns[c].separator = sample->separator;
        look_at(&g.columns[c]);
    }
    assign(&g);
    assign_events(&g);
    byform_assign(&g);
    GPtrArray *out = g_ptr_array_new_with_free_func(free_guess);
    for (unsigned c = 0; c < g.n; c++)
        add_column(out, &g, c);
    for (unsigned c = 0; c < g.n; c++) {
        g_ptr_array_unref(g.columns[c].values);
        g_free(g.columns[c].evidence);
    }
    g_free(g.columns);
    g_hash_table_unref(g.words);
    return out;
}

char guess_separator(const Sample *sample, const GPtrArray *guesses) {
    for (guint i = 0; !sample->separator && i < guesses->len; i++) {
        const Guess *g = guesses->pdata[i];
        if (!g->source_value && !g_strcmp0(g->field, field_table[FIELD_events].name)) {
            const char sign = eventlist_separator(sample->columns[g->column].cells);
            if (sign != ';')
                return sign;
        }
    }
    return 0;
}

const char *guess_word(GuessTrust trust) {
    static const char *const words[] = {"", "guess", "likely", "certain"};
    return words[trust];
}
