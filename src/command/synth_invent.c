// SPDX-License-Identifier: GPL-3.0-or-later
// Shares and medians are judgement, bounded by published ranges: 15 % of transfers with an event,
// 15 % moved for want of a bed or nurse, recording of 87 % and 65 % at the two ends, and so on.
// Invented throughout; no hospital is meant.
#include "command/synth_invent.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <string.h>

static const struct {
    const char *code, *name;
    int moves;
} trees[] = {
    {"ALD", "Alder", 120}, {"BIR", "Birch", 95}, {"CED", "Cedar", 80},   {"ELM", "Elm", 62},
    {"FIR", "Fir", 48},    {"HAZ", "Hazel", 38}, {"JUN", "Juniper", 27}, {"LAR", "Larch", 19},
    {"OAK", "Oak", 13},    {"PIN", "Pine", 9},   {"ROW", "Rowan", 5},    {"WIL", "Willow", 3},
};
enum { TREES = G_N_ELEMENTS(trees), HUBS = 3, LONGEST_STEP = 700 };

typedef struct {
    const SynthSettings *settings;
    SynthNetwork *network;
    gsl_rng *rng;
    WhenZone *zone;
    double scale; // of the volumes
} Inventing;

static bool chance(Inventing *v, double p) {
    return gsl_rng_uniform(v->rng) < p;
}

// A code of the field, by weights that add up to 1 (the last takes what is left).
typedef struct {
    const char *code;
    double weight;
} Weighted;

static uint8_t code_of(FieldId f, const char *code) {
    return field_code(field_table[f].codes, code, strlen(code));
}

static uint8_t pick(Inventing *v, FieldId f, const Weighted *from) {
    double u = gsl_rng_uniform(v->rng);
    while (from[1].code && u >= from->weight)
        u -= (from++)->weight;
    return code_of(f, from->code);
}

static uint8_t yes(Inventing *v, double p) {
    return chance(v, p) ? CODE_yes_no_YES : CODE_yes_no_NO;
}

// Minutes of a log-normal law with that median and 90th centile.
static int32_t minutes(Inventing *v, double median, double p90) {
    return (int32_t)gsl_ran_lognormal(v->rng, log(median), log(p90 / median) / 1.2815515655446004);
}

static int32_t short_minutes(Inventing *v, double median, double p90) {
    return MIN(LONGEST_STEP, minutes(v, median, p90));
}

// A local time, moved on by an hour where the clocks make it doubtful.
static int32_t safe_local(const Inventing *v, int32_t local) {
    int32_t utc, second;
    while (when_to_utc(v->zone, local, &utc, &second) != WHEN_OK)
        local += 60;
    return local;
}

static SynthUnit *unit_of(const Inventing *v, guint u) {
    return &g_array_index(v->network->units, SynthUnit, u);
}

static guint receiver(Inventing *v, guint from) {
    const guint n = v->network->units->len, hubs = MIN(n, HUBS + 1);
    guint to = (guint)gsl_rng_uniform_int(v->rng, MIN(n, HUBS));
    if (to == from)
        to = hubs - 1 == from ? 0 : hubs - 1;
    return to;
}

// Neither of ventilation and level of care says all of the other: else nobody could tell which of
// the two an event comes with.
static void invent_support(Inventing *v, SynthRecord *r) {
    static const Weighted level[] = {{"3", 0.62}, {"2", 0.32}, {"1", 0.06}, {NULL, 0}};
    static const double ventilated[] = {0, 0, 0.28, 0.79}; // by level
    const uint8_t care = r->code[FIELD_care_level] = pick(v, FIELD_care_level, level);
    const bool needs = chance(v, ventilated[care - 1]);
    r->code[FIELD_ventilated] = needs ? CODE_yes_no_YES : CODE_yes_no_NO;
    r->code[FIELD_vasoactive] = yes(v, needs ? 0.5 : 0.15);
}

static void invent_patient(Inventing *v, SynthRecord *r) {
    static const Weighted urgency[] = {
        {"time-critical", 0.2}, {"urgent", 0.5}, {"planned", 0.3}, {NULL, 0}};
    static const Weighted usual[] = {{"specialist-care", 0.42}, {"higher-level-care", 0.17},
                                     {"other-clinical", 0.06},  {"bed-capacity", 0.09},
                                     {"staffing", 0.04},        {"other-non-clinical", 0.02},
                                     {"repatriation", 0.20},    {NULL, 0}};
    static const Weighted crowded[] = {{"specialist-care", 0.30}, {"higher-level-care", 0.12},
                                       {"other-clinical", 0.05},  {"bed-capacity", 0.22},
                                       {"staffing", 0.10},        {"other-non-clinical", 0.03},
                                       {"repatriation", 0.18},    {NULL, 0}};
    static const Weighted condition[] = {
        {"head-injury", 0.14},      {"stroke", 0.12},     {"major-trauma", 0.1},
        {"cardiac", 0.14},          {"respiratory", 0.2}, {"sepsis", 0.12},
        {"gastrointestinal", 0.08}, {"other", 0.1},       {NULL, 0}};
    static const Weighted band[] = {{"0-15", 0.02},  {"16-39", 0.17}, {"40-59", 0.27},
                                    {"60-74", 0.32}, {"75-89", 0.2},  {"90+", 0.02},
                                    {NULL, 0}};
    static const Weighted team[] = {{"dedicated", 0.3},
                                    {"sending-unit", 0.58},
                                    {"receiving-unit", 0.04},
                                    {"ambulance-service", 0.08},
                                    {NULL, 0}};
    static const int first_age[] = {0, 0, 16, 40, 60, 75, 90}, years[] = {0, 16, 24, 20, 15, 15, 1};
    r->code[FIELD_urgency] = pick(v, FIELD_urgency, urgency);
    r->code[FIELD_reason] =
        pick(v, FIELD_reason, r->from == SYNTH_NON_CLINICAL_UNIT ? crowded : usual);
    r->code[FIELD_condition] = pick(v, FIELD_condition, condition);
    const uint8_t age = r->code[FIELD_age_band] = pick(v, FIELD_age_band, band);
    r->age = first_age[age] + (int)gsl_rng_uniform_int(v->rng, (unsigned long)years[age]);
    r->code[FIELD_sex] = chance(v, 0.43) ? CODE_sex_FEMALE : CODE_sex_MALE;
    invent_support(v, r);
    r->code[FIELD_team] = pick(v, FIELD_team, team);
}

// Sets a stamp, never before the one it follows; returns it.
static int32_t stamp(const Inventing *v, SynthRecord *r, FieldId f, int32_t at, int32_t after) {
    return r->at[synth_slot(f)] = MAX(after, safe_local(v, at));
}

static void invent_times(Inventing *v, SynthRecord *r, int32_t requested, int month, bool gone) {
    const double slow = month / 3 >= SYNTH_BETTER_FROM ? SYNTH_FASTER : 1;
    const uint8_t urgency = r->code[FIELD_urgency];
    const int32_t wait = urgency == CODE_urgency_TIME_CRITICAL ? minutes(v, 100 * slow, 220 * slow)
                         : urgency == CODE_urgency_PLANNED     ? minutes(v, 1440, 4320)
                                                               : minutes(v, 210, 480);
    int32_t last = stamp(v, r, FIELD_requested_at, requested, requested);
    last = stamp(v, r, FIELD_accepted_at, requested + wait / 5, last);
    if (!gone) {
        stamp(v, r, FIELD_ended_at, requested + minutes(v, 180, 600), last);
        return;
    }
    const int32_t ahead = MIN(wait / 2, short_minutes(v, 90, 200));
    last = stamp(v, r, FIELD_team_ready_at, requested + wait - ahead, last);
    last = stamp(v, r, FIELD_at_patient_at, requested + wait - ahead * 2 / 3, last);
    last = stamp(v, r, FIELD_departed_at, requested + wait, last);
    last = stamp(v, r, FIELD_arrived_at, last + short_minutes(v, 45, 110), last);
    last = stamp(v, r, FIELD_handed_over_at, last + short_minutes(v, 20, 40), last);
    stamp(v, r, FIELD_returned_at, last + short_minutes(v, 60, 120), last);
}

static void invent_escort(Inventing *v, SynthRecord *r) {
    static const Weighted grade[] = {{"consultant", 0.25},
                                     {"senior-trainee", 0.32},
                                     {"junior-trainee", 0.18},
                                     {"advanced-practitioner", 0.15},
                                     {"nurse", 0.07},
                                     {"paramedic", 0.03},
                                     {NULL, 0}};
    static const Weighted cover[] = {
        {"maintained", 0.55}, {"reduced", 0.38}, {"uncovered", 0.07}, {NULL, 0}};
    static const Weighted delay[] = {{"none", 0.4},
                                     {"no-vehicle", 0.18},
                                     {"no-team", 0.15},
                                     {"no-bed", 0.12},
                                     {"patient-unstable", 0.08},
                                     {"papers", 0.04},
                                     {"other", 0.03},
                                     {NULL, 0}};
    static const Weighted second[] = {
        {"none", 0.04}, {"nurse", 0.67}, {"operating-department-practitioner", 0.29}, {NULL, 0}};
    const bool dedicated = r->code[FIELD_team] == CODE_team_DEDICATED;
    r->code[FIELD_delay_reason] = pick(v, FIELD_delay_reason, delay);
    r->code[FIELD_escort_grade] = pick(v, FIELD_escort_grade, grade);
    r->code[FIELD_escort_specialty] =
        chance(v, 0.6) ? CODE_escort_specialty_ANAESTHESIA : CODE_escort_specialty_INTENSIVE_CARE;
    r->code[FIELD_second_escort] = pick(v, FIELD_second_escort, second);
    r->code[FIELD_escort_trained] = yes(v, dedicated ? 0.95 : 0.6);
    r->code[FIELD_airway_skilled] = yes(v, 0.9);
    r->code[FIELD_base_cover] = pick(v, FIELD_base_cover, cover);
    r->code[FIELD_indemnity_confirmed] = yes(v, dedicated ? 0.97 : 0.7);
}

static void invent_checks(Inventing *v, SynthRecord *r) {
    static const Weighted vehicle[] = {{"road-dedicated", 0.45},
                                       {"road-front-line", 0.48},
                                       {"helicopter", 0.05},
                                       {"other", 0.02},
                                       {NULL, 0}};
    const double papers = r->from == SYNTH_WEAK_PAPERS_UNIT ? SYNTH_PAPERS_WEAK : SYNTH_PAPERS;
    r->code[FIELD_vehicle] = pick(v, FIELD_vehicle, vehicle);
    r->code[FIELD_mains_power] = yes(v, 0.94);
    r->code[FIELD_secured_trolley] = yes(v, 0.96);
    r->code[FIELD_capnography] =
        r->code[FIELD_ventilated] == CODE_yes_no_YES ? yes(v, 0.92) : CODE_available_NOT_NEEDED;
    r->code[FIELD_oxygen_reserve] = yes(v, 0.95);
    r->code[FIELD_monitoring] = yes(v, 0.98);
    r->code[FIELD_observations_charted] = yes(v, papers);
    r->code[FIELD_checklist_done] = yes(v, papers);
    r->code[FIELD_handover_signed] = yes(v, papers);
    r->tenths = 40 + minutes(v, 380, 900);
}

static bool has_category(const SynthRecord *r, uint8_t category) {
    for (int i = 0; i < r->n_events; i++)
        if (r->events[i] == category)
            return true;
    return false;
}

static uint8_t harm_of(Inventing *v) {
    static const double harm[] = {0.09, 0, 0.5, 0.32, 0.07, 0.02}; // by degree, ungraded first
    double u = gsl_rng_uniform(v->rng);
    uint8_t degree = 0;
    while (degree < G_N_ELEMENTS(harm) - 1 && u >= harm[degree])
        u -= harm[degree++];
    return degree;
}

// Odds of an event are those of an unventilated patient times the planted ratio.
static void invent_events(Inventing *v, SynthRecord *r) {
    static const Weighted kinds[] = {{"cardiovascular", 0.24},
                                     {"respiratory", 0.16},
                                     {"equipment-power", 0.12},
                                     {"equipment-infusion", 0.09},
                                     {"equipment-ventilator", 0.07},
                                     {"communication", 0.1},
                                     {"delay", 0.08},
                                     {"airway", 0.03},
                                     {"medication", 0.05},
                                     {"vehicle-breakdown", 0.02},
                                     {"other", 0.04},
                                     {NULL, 0}};
    const double odds =
        SYNTH_EVENT_ODDS *
        (r->code[FIELD_ventilated] == CODE_yes_no_YES ? SYNTH_VENTILATED_ODDS_RATIO : 1);
    r->n_events = 0;
    if (!chance(v, odds / (1 + odds))) {
        if (!chance(v, 0.04))
            return;
        r->events[r->n_events++] = CODE_event_COMMUNICATION;
        r->harm = CODE_harm_NEAR_MISS;
        return;
    }
    r->harm = harm_of(v);
    do {
        const uint8_t category = pick(v, FIELD_events, kinds);
        if (!has_category(r, category))
            r->events[r->n_events++] = category;
    } while (chance(v, 0.28) && r->n_events < SYNTH_EVENTS);
}

static SynthRecord blank_record(void) {
    SynthRecord r = {.n_events = -1, .tenths = -1, .age = -1};
    for (int k = 0; k < SYNTH_TIMES; k++)
        r.at[k] = WHEN_UNKNOWN;
    return r;
}

// What happened, whole.
static SynthRecord invent_transfer(Inventing *v, guint unit, int month) {
    SynthRecord r = blank_record();
    r.from = (uint16_t)unit;
    r.to = (uint16_t)receiver(v, unit);
    const int first = SYNTH_FIRST_YEAR * 12 + month;
    const int32_t from = when_day(first / 12, first % 12 + 1, 1),
                  to = when_day((first + 1) / 12, (first + 1) % 12 + 1, 1);
    const int32_t requested = safe_local(
        v, from * WHEN_DAY + (int32_t)(gsl_rng_uniform(v->rng) * (to - from) * WHEN_DAY));
    const bool gone = !chance(v, 0.08);
    invent_patient(v, &r);
    invent_times(v, &r, requested, month, gone);
    if (!gone) {
        r.code[FIELD_outcome] =
            chance(v, 0.15) ? CODE_outcome_DIED_BEFORE_DEPARTURE : CODE_outcome_STOOD_DOWN;
        r.code[FIELD_team] = 0;
        return r;
    }
    r.code[FIELD_outcome] =
        chance(v, 0.002) ? CODE_outcome_DIED_IN_TRANSIT : CODE_outcome_COMPLETED;
    invent_escort(v, &r);
    invent_checks(v, &r);
    invent_events(v, &r);
    return r;
}

static void forget(Inventing *v, SynthRecord *r, FieldId f, double p) {
    if (!chance(v, p))
        return;
    r->code[f] = 0;
    if (field_table[f].kind == KIND_TIME)
        r->at[synth_slot(f)] = WHEN_UNKNOWN;
    if (f == FIELD_age_band)
        r->age = -1;
    if (f == FIELD_events)
        r->n_events = -1;
    if (f == FIELD_distance_km)
        r->tenths = -1;
}

// How often each end leaves a field blank.
static const struct {
    FieldId field;
    double sender, receiver;
} blanks[] = {
    {FIELD_urgency, 0.02, 0.1},
    {FIELD_reason, 0.04, 0.15},
    {FIELD_condition, 0.05, 0.05},
    {FIELD_age_band, 0.03, 0.03},
    {FIELD_sex, 0.02, 0.02},
    {FIELD_care_level, 0.04, 0.05},
    {FIELD_ventilated, 0.03, 0.03},
    {FIELD_vasoactive, 0.05, 0.05},
    {FIELD_requested_at, 0.01, 0.5},
    {FIELD_accepted_at, 0.06, 0.3},
    {FIELD_team_ready_at, 0.06, 1},
    {FIELD_at_patient_at, 0.08, 1},
    {FIELD_departed_at, 0.03, 0.4},
    {FIELD_arrived_at, 0.05, 0.02},
    {FIELD_handed_over_at, 0.08, 0.04},
    {FIELD_returned_at, 0.12, 1},
    {FIELD_ended_at, 0.1, 1},
    {FIELD_outcome, 0.02, 0.02},
    {FIELD_delay_reason, 0.15, 1},
    {FIELD_escort_grade, 0.1, 0.3},
    {FIELD_escort_specialty, 0.2, 0.6},
    {FIELD_second_escort, 0.05, 0.4},
    {FIELD_escort_trained, 0.08, 1},
    {FIELD_airway_skilled, 0.08, 1},
    {FIELD_team, 0.03, 0.1},
    {FIELD_base_cover, 0.12, 1},
    {FIELD_indemnity_confirmed, 0.2, 1},
    {FIELD_vehicle, 0.03, 0.1},
    {FIELD_mains_power, 0.06, 1},
    {FIELD_secured_trolley, 0.06, 1},
    {FIELD_capnography, 0.05, 0.4},
    {FIELD_oxygen_reserve, 0.06, 1},
    {FIELD_monitoring, 0.05, 0.3},
    {FIELD_observations_charted, 0.06, 0.1},
    {FIELD_checklist_done, 0.06, 1},
    {FIELD_handover_signed, 0.06, 0.03},
    {FIELD_events, 0.08, 0.35},
    {FIELD_distance_km, 0.06, 1},
};

static void leave_blanks(Inventing *v, SynthRecord *r) {
    for (size_t b = 0; b < G_N_ELEMENTS(blanks); b++)
        forget(v, r, blanks[b].field, r->received ? blanks[b].receiver : blanks[b].sender);
}

// What the receiver saw of it: by its own clock, with some fields seen otherwise and some events
// not at all.
static SynthRecord as_received(Inventing *v, const SynthRecord *sent) {
    static const FieldId judged[] = {FIELD_urgency,    FIELD_reason,       FIELD_condition,
                                     FIELD_care_level, FIELD_escort_grade, FIELD_monitoring};
    SynthRecord r = *sent;
    r.received = true;
    const int32_t clock = (int32_t)lround(gsl_ran_gaussian(v->rng, 3));
    for (int k = 0; k < SYNTH_TIMES; k++)
        if (r.at[k] != WHEN_UNKNOWN)
            r.at[k] = safe_local(v, r.at[k] + clock);
    for (size_t k = 0; k < G_N_ELEMENTS(judged); k++)
        if (chance(v, judged[k] == FIELD_condition ? 0.02 : 0.08))
            r.code[judged[k]] =
                (uint8_t)(1 + gsl_rng_uniform_int(v->rng, field_table[judged[k]].codes->n));
    int kept = 0;
    for (int i = 0; i < sent->n_events; i++)
        if (chance(v, 0.6))
            r.events[kept++] = sent->events[i];
    r.n_events = kept;
    if (r.harm != CODE_harm_NEAR_MISS && chance(v, 0.1))
        r.harm = harm_of(v);
    return r;
}

static bool is_silent(guint unit, int month) {
    return unit == SYNTH_SILENT_UNIT && month >= SYNTH_SILENT_FIRST && month <= SYNTH_SILENT_LAST;
}

// Writes the record into its keeper's log, as its next, and returns its number. Receivers date all
// of theirs.
static uint64_t enter(Inventing *v, SynthRecord r) {
    GArray *log = unit_of(v, r.received ? r.to : r.from)->log;
    const unsigned requested = synth_slot(FIELD_requested_at), left = synth_slot(FIELD_departed_at);
    const int32_t departed = r.at[left];
    leave_blanks(v, &r);
    if (r.received && r.at[requested] == WHEN_UNKNOWN)
        r.at[left] = departed;
    r.number = log->len + 1;
    g_array_append_val(log, r);
    return r.number;
}

static void invent_month(Inventing *v, guint unit, int month) {
    SynthNetwork *net = v->network;
    unsigned n = gsl_ran_poisson(v->rng, unit_of(v, unit)->moves / 3 * v->scale *
                                             (1 + 0.004 * month) / 0.92 / SYNTH_SENT_LOGGED);
    for (; n > 0; n--) {
        const SynthRecord r = invent_transfer(v, unit, month);
        const bool sent = chance(v, SYNTH_SENT_LOGGED) && !is_silent(unit, month);
        const bool moved =
            r.at[synth_slot(FIELD_departed_at)] != WHEN_UNKNOWN && unit_of(v, r.to)->logs_received;
        const bool received = moved && chance(v, SYNTH_RECEIVED_LOGGED);
        SynthPair pair = {r.from, r.to, 0, 0};
        if (sent)
            pair.sent = enter(v, r);
        if (received)
            pair.received = enter(v, as_received(v, &r));
        if (sent && received)
            g_array_append_val(net->pairs, pair);
        net->requests++;
        net->moved_in_two += moved;
        net->sent_logged += moved && sent;
        net->received_logged += received;
        net->both_logged += sent && received;
        net->never_logged += moved && !sent && !received;
    }
}

static void clear_unit(gpointer data) {
    SynthUnit *u = data;
    g_free(u->code);
    g_free(u->name);
    g_array_unref(u->log);
}

// The trees, then their second growth and so on. The first and the third log what they receive.
static void plant(SynthNetwork *net, guint n) {
    for (guint u = 0; u < n; u++) {
        const guint tree = u % TREES, growth = u / TREES + 1;
        SynthUnit unit = {growth == 1 ? g_strdup(trees[tree].code)
                                      : g_strdup_printf("%s%u", trees[tree].code, growth),
                          growth == 1 ? g_strdup(trees[tree].name)
                                      : g_strdup_printf("%s %u", trees[tree].name, growth),
                          trees[tree].moves, u == 0 || u == 2,
                          g_array_new(FALSE, FALSE, sizeof(SynthRecord))};
        g_array_append_val(net->units, unit);
    }
}

SynthNetwork *synth_invent(const SynthSettings *settings) {
    SynthNetwork *net = g_new0(SynthNetwork, 1);
    net->units = g_array_new(FALSE, FALSE, sizeof(SynthUnit));
    net->pairs = g_array_new(FALSE, FALSE, sizeof(SynthPair));
    g_array_set_clear_func(net->units, clear_unit);
    plant(net, (guint)settings->units);
    const int quarters = settings->quarters;
    double usual = 0;
    for (guint u = 0; u < net->units->len; u++)
        usual += g_array_index(net->units, SynthUnit, u).moves * quarters * (1 + 0.006 * quarters) /
                 0.92;
    Inventing v = {settings, net, gsl_rng_alloc(gsl_rng_mt19937), when_zone_new(SYNTH_ZONE, NULL),
                   settings->transfers ? settings->transfers / usual : 1};
    gsl_rng_set(v.rng, (unsigned long)settings->seed);
    for (int month = 0; month < quarters * 3; month++)
        for (guint u = 0; u < net->units->len; u++)
            invent_month(&v, u, month);
    gsl_rng_free(v.rng);
    when_zone_free(v.zone);
    return net;
}

void synth_invent_free(SynthNetwork *net) {
    g_array_unref(net->units);
    g_array_unref(net->pairs);
    g_free(net);
}
