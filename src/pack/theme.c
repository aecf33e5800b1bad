// SPDX-License-Identifier: GPL-3.0-or-later
// Questions, and answers put together from the estimates.
#include "pack/theme.h"

#include "pack/findingkinds.h"
#include "replay/answers.h"

#include <math.h>
#include <string.h>

static const struct {
    const char *anchor, *heading, *question;
} themes[THEME_COUNT] = {
    [THEME_DEMAND] = {"demand", "Demand and flow", "How many patients moved, when, and where to?"},
    [THEME_WHY] = {"why", "Why patients moved",
                   "How many moved for want of a bed or staff, not for a need of their own?"},
    [THEME_WAIT] = {"waiting", "Waiting, and the time-critical",
                    "How long did patients wait, those above all for whom time counts?"},
    [THEME_ESCORT] = {"escort", "Who went along",
                      "Who escorted the patients, and were they trained?"},
    [THEME_EVENTS] = {"events", "What went wrong",
                      "How often did something go wrong, and did it harm?"},
    [THEME_EQUIPMENT] = {"equipment", "Equipment and papers",
                         "Was the equipment complete, and were the papers?"},
    [THEME_BASE] = {"base", "Who was left behind",
                    "What did the sending units do without while their people were away?"},
    [THEME_WHAT_IF] = {"what-if", "What if",
                       "What would dedicated teams have reached of these requests?"},
    [THEME_QUALITY] = {"quality", "Quality of the data", "How far can these figures be trusted?"},
};

const char *theme_anchor(Theme t) {
    return themes[t].anchor;
}

const char *theme_heading(Theme t) {
    return themes[t].heading;
}

const char *theme_question(Theme t) {
    return themes[t].question;
}

const char *theme_sheet_name(Theme t) {
    static const char *const names[THEME_COUNT] = {
        [THEME_DEMAND] = "Demand",    [THEME_WHY] = "Why",
        [THEME_WAIT] = "Waiting",     [THEME_ESCORT] = "Escort",
        [THEME_EVENTS] = "Events",    [THEME_EQUIPMENT] = "Equipment and papers",
        [THEME_BASE] = "Left behind", [THEME_WHAT_IF] = "What if",
        [THEME_QUALITY] = "Other"};
    return names[t];
}

Theme theme_of(const char *indicator) {
    static const struct {
        const char *part; // of the name
        Theme theme;
    } parts[] = {
        {"non_clinical", THEME_WHY},
        {"repatriation", THEME_WHY},
        {"escort", THEME_ESCORT},
        {"airway_skilled", THEME_ESCORT},
        {"dedicated_team", THEME_ESCORT},
        {"indemnity", THEME_ESCORT},
        {"capnography", THEME_EQUIPMENT},
        {"equipment_ready", THEME_EQUIPMENT},
        {"papers", THEME_EQUIPMENT},
        {"base_cover", THEME_BASE},
        {"hours_away", THEME_BASE},
        {"absence", THEME_BASE},
        {"time_away", THEME_BASE},
        {"event", THEME_EVENTS},
        {"near_miss", THEME_EVENTS},
        {"harm", THEME_EVENTS},
        {"vehicle_", THEME_EVENTS},
        {"death_in_transit", THEME_EVENTS},
        {"time_to_", THEME_WAIT},
        {"stabilisation", THEME_WAIT},
        {"ready_to_departure", THEME_WAIT},
        {"journey", THEME_WAIT},
        {"handover_time", THEME_WAIT},
        {"request_to_arrival", THEME_WAIT},
        {"in_time", THEME_WAIT},
        {"delay_reason", THEME_WAIT},
        {"requests", THEME_DEMAND},
        {"transfers", THEME_DEMAND},
        {"time_critical", THEME_DEMAND},
        {"out_of_hours", THEME_DEMAND},
        {"stood_down", THEME_DEMAND},
        {"death_before", THEME_DEMAND},
    };
    for (unsigned i = 0; i < G_N_ELEMENTS(parts); i++)
        if (strstr(indicator, parts[i].part))
            return parts[i].theme;
    return THEME_QUALITY;
}

// A part of an answer: words before an estimate, and words behind it.
typedef struct {
    const char *before, *indicator, *after;
    FieldId by;
    uint16_t group;
    uint8_t quantile;
} Clause;

static const Clause clauses[] = {
    // demand
    {"Transfers that departed: ", "transfers", "", FIELD_COUNT, 0, 0},
    {", ", "transfers_per_week", " a week", FIELD_COUNT, 0, 0},
    {"; ", "out_of_hours_share", " left out of hours", FIELD_COUNT, 0, 0},
    {", and ", "time_critical_share", " were time-critical", FIELD_COUNT, 0, 0},
    // why
    {"", "non_clinical_share",
     " of the transfers, repatriations apart, were made for want of a bed or staff", FIELD_COUNT, 0,
     0},
    {"; ", "repatriation_share", " of all transfers were repatriations", FIELD_COUNT, 0, 0},
    // waiting
    {"Half of the time-critical had left within ", "time_to_departure", " of the request",
     FIELD_urgency, CODE_urgency_TIME_CRITICAL, 1},
    {", nine in ten within ", "time_to_departure", "", FIELD_urgency, CODE_urgency_TIME_CRITICAL,
     3},
    {"; ", "departed_in_time_share", " left within the network's target for their urgency",
     FIELD_COUNT, 0, 0},
    // escort
    {"", "senior_escort_share", " had a senior escort", FIELD_COUNT, 0, 0},
    {", ", "trained_escort_share", " one trained for transfer", FIELD_COUNT, 0, 0},
    {"; a dedicated team carried ", "dedicated_team_share", "", FIELD_COUNT, 0, 0},
    // events
    {"", "adverse_event_share", " of the transfers had an adverse event", FIELD_COUNT, 0, 0},
    {", ", "harm_share", " one of moderate harm or worse", FIELD_COUNT, 0, 0},
    {"; ", "death_in_transit_share", " of the patients died on the way", FIELD_COUNT, 0, 0},
    // equipment
    {"The equipment was complete and working in ", "equipment_ready_share", "", FIELD_COUNT, 0, 0},
    {"; the papers were complete in ", "papers_complete_share", "", FIELD_COUNT, 0, 0},
    // base
    {"Teams of the sending units were away for ", "team_hours_away", "", FIELD_COUNT, 0, 0},
    {"; ", "base_cover_reduced_share", " of their departures left the unit short", FIELD_COUNT, 0,
     0},
    {"; two or more teams of a unit were away at once for ", "overlapping_absence_share",
     " of the time with one away", FIELD_COUNT, 0, 0},
};
static const guint first_clause[THEME_COUNT + 1] = {0, 4, 6, 9, 12, 15, 17, 20, 20, 20};

// Of clauses that go on from the first of their answer: what they say where that has no value.
static const struct {
    const char *indicator, *before, *after;
} alone[] = {
    {"transfers_per_week", "Transfers a week: ", ""},
    {"time_critical_share", "", " were time-critical"},
    {"time_to_departure", "Nine in ten of the time-critical had left within ", ""},
    {"trained_escort_share", "", " had an escort trained for transfer"},
    {"harm_share", "", " had an adverse event of moderate harm or worse"},
};

// The words around a clause's value; nothing of its answer has been said yet.
static void begin_with(const Clause *c, const char **before, const char **after) {
    const bool goes_on = c->before[0] == ',';
    while (**before == ';' || **before == ' ')
        (*before)++;
    for (unsigned k = 0; goes_on && k < G_N_ELEMENTS(alone); k++)
        if (strcmp(alone[k].indicator, c->indicator) == 0) {
            *before = alone[k].before;
            *after = alone[k].after;
        }
}

// Appends the clause, if there is anything to say; true: its figure is hidden.
static bool append_clause(GString *out, const Source *s, const Clause *c) {
    LookupKey key = lookup_key(c->indicator);
    key.unit = s->focus;
    key.by = c->by;
    key.group = c->group;
    key.quantile = c->quantile;
    const Estimate *r = lookup_row(s->lookup, &key);
    if (!r || !lookup_is_known(s->lookup, r))
        return r && r->suppressed;
    const Indicator *i = s->e->catalogue->pdata[r->indicator];
    char *value = i->measure == MEASURE_COUNT ? words_figure(WORDS_COUNT, r->estimate, 0)
                                              : words_estimate(s->e, r);
    const char *before = c->before, *after = c->after;
    if (out->len == 0)
        begin_with(c, &before, &after);
    char *unknown = words_unknown(s->e, r);
    g_string_append_printf(out, "%s%s%s", before, value, after);
    if (unknown)
        g_string_append_printf(out, " (%s)", unknown);
    g_free(unknown);
    g_free(value);
    return false;
}

static const char open_is_unknown[] =
    "What a log leaves open is shown as unknown beside each figure, never counted as no.";

static char *quality(const Source *s) {
    if (s->focus) {
        char *own = findingkinds_sentence(s->kinds, s->focus),
             *text = g_strconcat(own, " ", open_is_unknown, NULL);
        g_free(own);
        return text;
    }
    const Account *a = s->account;
    char *read = words_figure(WORDS_COUNT, (double)a->read, 0),
         *used = words_figure(WORDS_COUNT, (double)a->used, 0),
         *aside = words_figure(WORDS_COUNT, (double)a->put_aside, 0),
         *found = words_figure(WORDS_COUNT, s->findings->findings->len, 0),
         *text = g_strdup_printf("Rows read: %s, used: %s, put aside: %s; findings about the logs: "
                                 "%s. %s",
                                 read, used, aside, found, open_is_unknown);
    g_free(read);
    g_free(used);
    g_free(aside);
    g_free(found);
    return text;
}

char *theme_answer(const Source *s, Theme t) {
    if (t == THEME_QUALITY)
        return quality(s);
    if (t == THEME_WHAT_IF)
        return s->trial ? answers_headline(s->trial) : g_strdup(s->no_trial);
    GString *out = g_string_new(NULL);
    bool hidden = false;
    for (guint c = first_clause[t]; c < first_clause[t + 1]; c++)
        hidden |= append_clause(out, s, &clauses[c]);
    if (out->len == 0)
        g_string_assign(out, hidden ? "What would answer this is hidden"
                                    : "The logs do not carry what would answer this");
    else if (g_ascii_islower(out->str[0]))
        out->str[0] = g_ascii_toupper(out->str[0]);
    g_string_append_c(out, '.');
    return g_string_free(out, FALSE);
}
