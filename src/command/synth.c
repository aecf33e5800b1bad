// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward synth`: invents a network and its logs from a seed, and writes the truth beside them.
#include "command/command.h"

#include "record/when.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// Shares and medians are judgement, bounded by published ranges: 15 % of transfers with an event,
// 15 % moved for want of a bed or nurse, and so on. Invented throughout; no hospital is meant.
enum { FIRST_YEAR = 2030, UNITS = 12 };
#define VENTILATED_ODDS_RATIO 3.0

static const struct {
    const char *code, *name;
    int moves_a_quarter;
} units[UNITS] = {
    {"ALD", "Alder", 120}, {"BIR", "Birch", 95}, {"CED", "Cedar", 80},   {"ELM", "Elm", 62},
    {"FIR", "Fir", 48},    {"HAZ", "Hazel", 38}, {"JUN", "Juniper", 27}, {"LAR", "Larch", 19},
    {"OAK", "Oak", 13},    {"PIN", "Pine", 9},   {"ROW", "Rowan", 5},    {"WIL", "Willow", 3},
};
enum {
    NON_CLINICAL_UNIT = 3,
    WEAK_PAPERS_UNIT = 5,
    SILENT_UNIT = 4,
    SILENT_FIRST = 13,
    SILENT_LAST = 14,
    BETTER_FROM = 4
};

typedef struct {
    gsl_rng *rng;
    int quarters;
    double scale; // of the volumes
    WhenZone *zone;
    GString *row;
    guint64 number;
} Synth;

static bool chance(Synth *s, double p) {
    return gsl_rng_uniform(s->rng) < p;
}

// One of the words, by weights that add up to 1.
static const char *pick(Synth *s, const char *const *words, const double *weights) {
    double u = gsl_rng_uniform(s->rng);
    size_t i = 0;
    while (words[i + 1] && u >= weights[i])
        u -= weights[i++];
    return words[i];
}

static void put(Synth *s, const char *text) {
    g_string_append(s->row, text);
    g_string_append_c(s->row, ',');
}

// A value, left blank with the given probability.
static void put_some(Synth *s, const char *text, double blank) {
    put(s, chance(s, blank) ? "" : text);
}

static void put_yes(Synth *s, double p, double blank) {
    const bool yes = chance(s, p);
    put_some(s, yes ? "yes" : "no", blank);
}

// Minutes of a log-normal law with that median and 90th centile.
static int32_t minutes(Synth *s, double median, double p90) {
    return (int32_t)gsl_ran_lognormal(s->rng, log(median), log(p90 / median) / 1.2815515655446004);
}

// A local time, moved on by an hour where the clocks make it doubtful.
static int32_t safe_local(const Synth *s, int32_t local) {
    int32_t utc, second;
    while (when_to_utc(s->zone, local, &utc, &second) != WHEN_OK)
        local += 60;
    return local;
}

static void put_time(Synth *s, int32_t local, double blank) {
    if (local == WHEN_UNKNOWN || chance(s, blank)) {
        put(s, "");
        return;
    }
    local = safe_local(s, local);
    int y, m, d;
    const int32_t day = when_day_of(local);
    when_civil(day, &y, &m, &d);
    g_string_append_printf(s->row, "%04d-%02d-%02dT%02d:%02d,", y, m, d,
                           (local - day * WHEN_DAY) / 60, local % 60);
}

typedef struct {
    int unit, month;
    int32_t requested;
    const char *urgency, *reason, *team;
    bool ventilated, departed, died;
} Patient;

static Patient invent(Synth *s, int unit, int month) {
    static const char *const urgencies[] = {"time-critical", "urgent", "planned", NULL};
    static const double urgency[] = {0.2, 0.5, 0.3};
    static const char *const reasons[] = {
        "specialist-care", "higher-level-care",  "other-clinical", "bed-capacity",
        "staffing",        "other-non-clinical", "repatriation",   NULL};
    static const double usual[] = {0.42, 0.17, 0.06, 0.09, 0.04, 0.02, 0.20};
    static const double crowded[] = {0.30, 0.12, 0.05, 0.22, 0.10, 0.03, 0.18};
    static const char *const teams[] = {"dedicated", "sending-unit", "receiving-unit",
                                        "ambulance-service", NULL};
    static const double team[] = {0.3, 0.58, 0.04, 0.08};
    Patient p = {.unit = unit, .month = month};
    const int first = FIRST_YEAR * 12 + month;
    const int32_t from = when_day(first / 12, first % 12 + 1, 1),
                  to = when_day((first + 1) / 12, (first + 1) % 12 + 1, 1);
    p.requested = safe_local(s, from * WHEN_DAY +
                                    (int32_t)(gsl_rng_uniform(s->rng) * (to - from) * WHEN_DAY));
    p.urgency = pick(s, urgencies, urgency);
    p.reason = pick(s, reasons, unit == NON_CLINICAL_UNIT ? crowded : usual);
    p.team = pick(s, teams, team);
    p.ventilated = chance(s, 0.58);
    p.departed = !chance(s, 0.08);
    p.died = !p.departed && chance(s, 0.15);
    return p;
}

static void put_patient(Synth *s, const Patient *p) {
    static const char *const conditions[] = {"head-injury",      "stroke",      "major-trauma",
                                             "cardiac",          "respiratory", "sepsis",
                                             "gastrointestinal", "other",       NULL};
    static const double condition[] = {0.14, 0.12, 0.1, 0.14, 0.2, 0.12, 0.08, 0.1};
    static const char *const ages[] = {"0-15", "16-39", "40-59", "60-74", "75-89", "90+", NULL};
    static const double age[] = {0.02, 0.17, 0.27, 0.32, 0.2, 0.02};
    int to = (int)gsl_rng_uniform_int(s->rng, 3);
    if (to == p->unit)
        to = 3;
    char id[32];
    g_snprintf(id, sizeof id, "T%07" G_GUINT64_FORMAT, ++s->number);
    put(s, id);
    put(s, units[p->unit].code);
    put(s, units[p->unit].code);
    put(s, units[to].code);
    put_some(s, p->urgency, 0.02);
    put_some(s, p->reason, 0.04);
    put_some(s, pick(s, conditions, condition), 0.05);
    put_some(s, pick(s, ages, age), 0.03);
    put_some(s, chance(s, 0.43) ? "female" : "male", 0.02);
    put_some(s, p->ventilated ? "3" : chance(s, 0.8) ? "2" : "1", 0.04);
    put_some(s, p->ventilated ? "yes" : "no", 0.03);
    put_yes(s, p->ventilated ? 0.5 : 0.15, 0.05);
}

// The phases; returns whether the wait was long.
static void put_times(Synth *s, const Patient *p) {
    const double slow = p->month / 3 >= BETTER_FROM ? 0.75 : 1; // the planted improvement
    const bool critical = p->urgency[0] == 't', planned = p->urgency[0] == 'p';
    const int32_t wait = critical  ? minutes(s, 100 * slow, 220 * slow)
                         : planned ? minutes(s, 1440, 4320)
                                   : minutes(s, 210, 480);
    const int32_t left = p->requested + wait, arrived = left + minutes(s, 45, 110);
    const int32_t over = arrived + minutes(s, 20, 40), ready = p->requested + wait / 2;
    const bool gone = p->departed;
    put_time(s, p->requested, 0.01);
    put_time(s, p->requested + wait / 5, 0.06);
    put_time(s, gone ? ready : WHEN_UNKNOWN, 0.06);
    put_time(s, gone ? ready + wait / 10 : WHEN_UNKNOWN, 0.08);
    put_time(s, gone ? left : WHEN_UNKNOWN, 0.03);
    put_time(s, gone ? arrived : WHEN_UNKNOWN, 0.05);
    put_time(s, gone ? over : WHEN_UNKNOWN, 0.08);
    put_time(s, gone ? over + minutes(s, 60, 120) : WHEN_UNKNOWN, 0.12);
    put_time(s, gone ? WHEN_UNKNOWN : p->requested + minutes(s, 180, 600), 0.1);
    put_some(s,
             !gone              ? (p->died ? "died-before-departure" : "stood-down")
             : chance(s, 0.002) ? "died-in-transit"
                                : "completed",
             0.02);
}

static void put_escort(Synth *s, const Patient *p) {
    static const char *const grades[] = {"consultant",
                                         "senior-trainee",
                                         "junior-trainee",
                                         "advanced-practitioner",
                                         "nurse",
                                         "paramedic",
                                         NULL};
    static const double grade[] = {0.25, 0.32, 0.18, 0.15, 0.07, 0.03};
    static const char *const covers[] = {"maintained", "reduced", "uncovered", NULL};
    static const double cover[] = {0.55, 0.38, 0.07};
    static const char *const delays[] = {
        "none", "no-vehicle", "no-team", "no-bed", "patient-unstable", "papers", "other", NULL};
    static const double delay[] = {0.4, 0.18, 0.15, 0.12, 0.08, 0.04, 0.03};
    if (!p->departed) {
        for (int i = 0; i < 9; i++)
            put(s, "");
        return;
    }
    put_some(s, pick(s, delays, delay), 0.15);
    put_some(s, pick(s, grades, grade), 0.1);
    put_some(s, chance(s, 0.6) ? "anaesthesia" : "intensive-care", 0.2);
    put_some(s,
             chance(s, 0.04)  ? "none"
             : chance(s, 0.7) ? "nurse"
                              : "operating-department-practitioner",
             0.05);
    put_yes(s, p->team[0] == 'd' ? 0.95 : 0.6, 0.08);
    put_yes(s, 0.9, 0.08);
    put_some(s, p->team, 0.03);
    put_some(s, pick(s, covers, cover), 0.12);
    put_yes(s, p->team[0] == 'd' ? 0.97 : 0.7, 0.2);
}

static void put_checks(Synth *s, const Patient *p) {
    const double papers = p->unit == WEAK_PAPERS_UNIT ? 0.62 : 0.9;
    static const char *const vehicles[] = {"road-dedicated", "road-front-line", "helicopter",
                                           "other", NULL};
    static const double vehicle[] = {0.45, 0.48, 0.05, 0.02};
    if (!p->departed) {
        for (int i = 0; i < 9; i++)
            put(s, "");
        return;
    }
    put_some(s, pick(s, vehicles, vehicle), 0.03);
    put_yes(s, 0.94, 0.06);
    put_yes(s, 0.96, 0.06);
    put_some(s, !p->ventilated ? "not-needed" : chance(s, 0.92) ? "yes" : "no", 0.05);
    put_yes(s, 0.95, 0.06);
    put_yes(s, 0.98, 0.05);
    put_yes(s, papers, 0.06);
    put_yes(s, papers, 0.06);
    put_yes(s, papers, 0.06);
}

// Odds of an event are those of an unventilated patient times the planted ratio.
static void put_events(Synth *s, const Patient *p) {
    static const char *const kinds[] = {
        "cardiovascular",       "respiratory",       "equipment-power", "equipment-infusion",
        "equipment-ventilator", "communication",     "delay",           "airway",
        "medication",           "vehicle-breakdown", "other",           NULL};
    static const double kind[] = {0.24, 0.16, 0.12, 0.09, 0.07, 0.1, 0.08, 0.03, 0.05, 0.02, 0.04};
    static const char *const harms[] = {":none", ":low", ":moderate", ":severe", "", NULL};
    static const double harm[] = {0.5, 0.32, 0.07, 0.02, 0.09};
    const double odds = 0.09 * (p->ventilated ? VENTILATED_ODDS_RATIO : 1);
    if (!p->departed || chance(s, 0.08)) {
        put(s, "");
        return;
    }
    if (!chance(s, odds / (1 + odds))) {
        put(s, chance(s, 0.04) ? "communication:near-miss" : "none");
        return;
    }
    do {
        g_string_append(s->row, pick(s, kinds, kind));
        g_string_append(s->row, pick(s, harms, harm));
        g_string_append_c(s->row, ';');
    } while (chance(s, 0.28));
    s->row->str[s->row->len - 1] = ',';
}

static const char heading[] = "transfer_id,recorded_by,sending_unit,receiving_unit,urgency,reason,"
                              "condition,age_band,sex,care_level,ventilated,vasoactive,"
                              "requested_at,accepted_at,team_ready_at,at_patient_at,departed_at,"
                              "arrived_at,handed_over_at,returned_at,ended_at,outcome,"
                              "delay_reason,escort_grade,escort_specialty,second_escort,escort_"
                              "trained,airway_skilled,team,base_cover,"
                              "indemnity_confirmed,vehicle,mains_power,secured_trolley,capnography,"
                              "oxygen_reserve,monitoring,observations_charted,"
                              "checklist_done,handover_signed,events,distance_km\n";

static void append_record(Synth *s, const Patient *p) {
    put_patient(s, p);
    put_times(s, p);
    put_escort(s, p);
    put_checks(s, p);
    put_events(s, p);
    if (p->departed && !chance(s, 0.06))
        g_string_append_printf(s->row, "%d.%d", 4 + minutes(s, 38, 90),
                               (int)gsl_rng_uniform_int(s->rng, 10));
    g_string_append_c(s->row, '\n');
}

static bool write_unit(Synth *s, int unit, const char *dir, GError **error) {
    char *path = g_strdup_printf("%s/logs/%s.csv", dir, units[unit].code);
    FILE *out = fopen(path, "wb");
    bool good = out && fputs(heading, out) >= 0;
    for (int month = 0; good && month < s->quarters * 3; month++) {
        unsigned n = gsl_ran_poisson(s->rng, units[unit].moves_a_quarter / 3.0 * s->scale *
                                                 (1 + 0.004 * month) / 0.92);
        if (unit == SILENT_UNIT && month >= SILENT_FIRST && month <= SILENT_LAST)
            n = 0;
        for (; good && n > 0; n--) {
            const Patient p = invent(s, unit, month);
            g_string_truncate(s->row, 0);
            append_record(s, &p);
            good = fwrite(s->row->str, 1, s->row->len, out) == s->row->len;
        }
    }
    if (out && fclose(out) != 0)
        good = false;
    if (!good)
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_IO, "%s: cannot be written", path);
    g_free(path);
    return good;
}

static const char network_ini[] =
    "# Invented: no real network is meant.\n[network]\nname = Arbor network (invented data)\n"
    "timezone = Europe/Paris\nholidays = 2030-01-01;2030-12-25;2031-01-01;2031-12-25\n\n"
    "[targets]\ntime-critical = 120\nurgent = 360\nsource = invented, for the demo\n\n"
    "[caps]\nwait = 14400\njourney = 1440\nhandover = 720\naway = 2880\n";

static const char read_me[] =
    "# Sample data: an invented network\n\nEvery unit, patient and figure here is invented by "
    "`crossward synth` from a seed. No "
    "hospital, person or\nservice is meant, and nothing here is evidence about any.\n\n"
    "- `logs/`: one canonical log for each sending unit\n- `network/`: the network's settings and "
    "units\n- `truth.json`: what "
    "was planted, so that a reader can check what the audit finds\n";

static bool write_file(const char *dir, const char *name, const char *text, GError **error) {
    char *path = g_build_filename(dir, name, NULL);
    const bool good = g_file_set_contents(path, text, -1, error);
    g_free(path);
    return good;
}

static bool write_beside(const Synth *s, const char *dir, gint seed, GError **error) {
    GString *list = g_string_new("unit,name,region,beds\n");
    for (int u = 0; u < UNITS; u++)
        g_string_append_printf(list, "%s,%s (invented),%s,%d\n", units[u].code, units[u].name,
                               u % 2 ? "south" : "north", 6 + units[u].moves_a_quarter / 8);
    char *truth = g_strdup_printf(
        "{\n  \"invented\": true,\n  \"seed\": %d,\n  \"transfers\": %" G_GUINT64_FORMAT
        ",\n  \"many_non_clinical\": \"%s\",\n"
        "  \"weak_papers\": \"%s\",\n  \"ventilated_odds_ratio_of_events\": %.1f,\n"
        "  \"time_critical_wait_times_0.75_from\": \"%d-Q1\",\n  \"no_log\": {\"unit\": \"%s\", "
        "\"months\": [\"%d-%02d\", \"%d-%02d\"]}\n}\n",
        seed, s->number, units[NON_CLINICAL_UNIT].code, units[WEAK_PAPERS_UNIT].code,
        VENTILATED_ODDS_RATIO, FIRST_YEAR + BETTER_FROM / 4, units[SILENT_UNIT].code,
        FIRST_YEAR + SILENT_FIRST / 12, SILENT_FIRST % 12 + 1, FIRST_YEAR + SILENT_LAST / 12,
        SILENT_LAST % 12 + 1);
    const bool good = write_file(dir, "network/network.ini", network_ini, error) &&
                      write_file(dir, "network/units.csv", list->str, error) &&
                      write_file(dir, "truth.json", truth, error) &&
                      write_file(dir, "README.md", read_me, error);
    g_free(truth);
    g_string_free(list, TRUE);
    return good;
}

static bool write_all(Synth *s, const char *dir, gint seed, GError **error) {
    char *logs = g_build_filename(dir, "logs", NULL),
         *network = g_build_filename(dir, "network", NULL);
    bool good = g_mkdir_with_parents(logs, 0755) == 0 && g_mkdir_with_parents(network, 0755) == 0;
    if (!good)
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_IO, "%s: cannot be made", dir);
    g_free(logs);
    g_free(network);
    for (int u = 0; good && u < UNITS; u++)
        good = write_unit(s, u, dir, error);
    return good && write_beside(s, dir, seed, error);
}

int synth_run(int argc, char **argv, GError **error) {
    gint seed = 1, quarters = 8, transfers = 0;
    char *dir = NULL;
    GOptionEntry entries[] = {
        {"seed", 0, 0, G_OPTION_ARG_INT, &seed, "what the invention starts from (1)", "N"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &dir, "folder to write logs, network and truth into",
         "DIR"},
        {"quarters", 0, 0, G_OPTION_ARG_INT, &quarters, "length (8)", "N"},
        {"transfers", 0, 0, G_OPTION_ARG_INT, &transfers,
         "about so many requests in all (as the network is)", "N"},
        {0},
    };
    (void)argc;
    GOptionContext *context = g_option_context_new(NULL);
    g_option_context_set_summary(
        context, "Invents a network and its logs from a seed; every number in them is invented.");
    g_option_context_add_main_entries(context, entries, NULL);
    char **copy = g_strdupv(argv);
    bool good = g_option_context_parse_strv(context, &copy, error);
    g_strfreev(copy);
    g_option_context_free(context);
    if (good && (!dir || quarters < 1 || quarters > 40 || transfers < 0)) {
        g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE,
                    "give --out DIR, --quarters 1 to 40, --transfers 1 or more");
        good = false;
    }
    int code = COMMAND_USAGE;
    if (good) {
        double usual = 0;
        for (int u = 0; u < UNITS; u++)
            usual += units[u].moves_a_quarter * quarters * (1 + 0.006 * quarters) / 0.92;
        Synth s = {gsl_rng_alloc(gsl_rng_mt19937),
                   quarters,
                   transfers ? transfers / usual : 1,
                   when_zone_new("Europe/Paris", NULL),
                   g_string_new(NULL),
                   0};
        gsl_rng_set(s.rng, (unsigned long)seed);
        code = write_all(&s, dir, seed, error) ? COMMAND_DONE : COMMAND_OUTPUT;
        gsl_rng_free(s.rng);
        when_zone_free(s.zone);
        g_string_free(s.row, TRUE);
    }
    g_free(dir);
    return code;
}
