// SPDX-License-Identifier: GPL-3.0-or-later
// Reads replay.ini.
#include "replay/rules.h"

#include "base/keyfile.h"
#include "replay/engine.h"

#include <math.h>
#include <string.h>

static const char *const weekdays[] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};

// ---- values ----

static bool read_minutes(const char *text, int32_t *minutes) {
    gint64 value;
    if (!g_ascii_string_to_signed(text, 10, 0, 100000, &value, NULL))
        return false;
    *minutes = (int32_t)value;
    return true;
}

static bool read_minutes_or_logs(const char *text, int32_t *minutes) {
    if (strcmp(text, "logs") != 0)
        return read_minutes(text, minutes);
    *minutes = RULES_FROM_LOGS;
    return true;
}

static bool read_number(const char *text, double low, double high, double *value) {
    char *end;
    *value = g_ascii_strtod(text, &end);
    return end != text && *end == 0 && *value >= low && *value <= high;
}

static bool read_clock(const char *text, int32_t *minutes) {
    for (int i = 0; i < 5; i++)
        if (i == 2 ? text[i] != ':' : !g_ascii_isdigit(text[i]))
            return false;
    *minutes = (text[0] - '0') * 600 + (text[1] - '0') * 60 + (text[3] - '0') * 10 + text[4] - '0';
    return *minutes <= WHEN_DAY && text[3] < '6';
}

// `24h` or `08:00-20:00`, which may end on the next day.
static bool read_hours(const char *text, RulesHours *h) {
    if (!strcmp(text, "24h")) {
        h->from = 0, h->to = WHEN_DAY;
        return true;
    }
    if (strlen(text) != 11 || text[5] != '-' || !read_clock(text, &h->from) ||
        !read_clock(text + 6, &h->to) || h->from == WHEN_DAY || h->to == h->from)
        return false;
    h->to += h->to < h->from ? WHEN_DAY : 0;
    return true;
}

static bool read_days(const char *text, RulesHours *h) {
    bool any = false, good = true;
    memset(h->day, 0, sizeof h->day);
    char **parts = g_strsplit(text, ";", -1);
    for (char **p = parts; *p && good; p++) {
        int d = 0;
        while (d < 7 && strcmp(g_strstrip(*p), weekdays[d]) != 0)
            d++;
        good = d < 7 || **p == 0;
        if (d < 7)
            h->day[d] = any = true;
    }
    g_strfreev(parts);
    return good && any;
}

static bool read_takes(const char *text, uint8_t *takes) {
    bool good = true;
    *takes = 0;
    char **parts = g_strsplit(text, ";", -1);
    for (char **p = parts; *p && good; p++) {
        g_strstrip(*p);
        const unsigned code = field_code(field_table[FIELD_urgency].codes, *p, strlen(*p));
        good = code != 0 || **p == 0;
        if (code != 0)
            *takes |= (uint8_t)(1u << (code - 1));
    }
    g_strfreev(parts);
    return good && *takes != 0;
}

static bool read_wait(const char *text, int32_t *minutes) {
    *minutes = !strcmp(text, "no") ? 0 : RULES_ENDLESS;
    return !strcmp(text, "no") || !strcmp(text, "any") || read_minutes(text, minutes);
}

static void read_list(const char *text, GPtrArray *list) {
    g_ptr_array_set_size(list, 0);
    char **parts = g_strsplit(text, ";", -1);
    for (char **p = parts; *p; p++)
        if (*g_strstrip(*p))
            g_ptr_array_add(list, g_strdup(*p));
    g_strfreev(parts);
}

// ---- sections ----

// Each: false if there is no such key; *good says whether its value is allowed.
static bool set_rule(Rules *r, const char *key, const char *value, bool *good) {
    gint64 count;
    if (!strcmp(key, "teams")) {
        *good = g_ascii_string_to_signed(value, 10, 0, ENGINE_MOST_TEAMS, &count, NULL);
        r->teams = *good ? (unsigned)count : 0;
    } else if (!strcmp(key, "bases"))
        read_list(value, r->bases);
    else if (!strcmp(key, "takes"))
        *good = read_takes(value, &r->takes);
    else if (!strcmp(key, "mobilisation"))
        *good = read_minutes(value, &r->mobilisation);
    else if (!strcmp(key, "stabilisation"))
        *good = read_minutes_or_logs(value, &r->stabilisation);
    else if (!strcmp(key, "handover"))
        *good = read_minutes_or_logs(value, &r->handover);
    else if (!strcmp(key, "typical_journey"))
        *good = read_minutes_or_logs(value, &r->typical);
    else if (!strcmp(key, "same_site"))
        *good = read_minutes(value, &r->same_site);
    else if (!strcmp(key, "speed"))
        *good = !strcmp(value, "logs") || read_number(value, 1, 1000, &r->speed);
    else if (!strcmp(key, "worthwhile"))
        *good = read_number(value, 0, 1, &r->worthwhile);
    else if (!strcmp(key, "unknown_urgency")) {
        r->unknown_class = field_code(field_table[FIELD_urgency].codes, value, strlen(value));
        *good = r->unknown_class-- != 0;
    } else if (!strcmp(key, "offered")) {
        g_free(r->offered_text);
        r->offered_text = g_strdup(value);
    } else
        return false;
    return true;
}

static bool set_wait(Rules *r, const char *key, const char *value, bool *good) {
    const unsigned code = field_code(field_table[FIELD_urgency].codes, key, strlen(key));
    if (code != 0)
        *good = read_wait(value, &r->wait[code - 1]);
    return code != 0;
}

static bool set_hours(RulesHours *h, const char *key, const char *value, bool *good) {
    if (!strcmp(key, "hours"))
        *good = read_hours(value, h);
    else if (!strcmp(key, "days"))
        *good = read_days(value, h);
    else
        return false;
    return true;
}

static bool set_team(RulesTeam *t, const char *key, const char *value, bool *good) {
    if (!strcmp(key, "base")) {
        g_free(t->base);
        t->base = g_strdup(value);
    } else if (!strcmp(key, "takes"))
        *good = read_takes(value, &t->takes);
    else {
        t->has_hours = true;
        return set_hours(&t->hours, key, value, good);
    }
    return true;
}

static const RulesHours always = {0, WHEN_DAY, {true, true, true, true, true, true, true}};

static RulesRoster *add_roster(Rules *r, const char *name) {
    RulesRoster *roster = g_new0(RulesRoster, 1);
    roster->name = g_strdup(name);
    roster->hours = always;
    g_ptr_array_add(r->rosters, roster);
    return roster;
}

static RulesTeam *add_team(Rules *r, const char *name) {
    RulesTeam *team = g_new0(RulesTeam, 1);
    team->name = g_strdup(name);
    team->hours = always;
    g_ptr_array_add(r->named, team);
    return team;
}

static bool fail(GError **error, const char *path, const char *group, const char *key,
                 const char *why) {
    g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE, "%s: [%s] %s%s%s", path, group, key,
                *key ? ": " : "", why);
    return false;
}

// What a key holds, for one whose value is not allowed.
static const char *form_of(const char *key) {
    static const struct {
        const char *key, *form;
    } forms[] = {
        {"teams", "a whole number from 0 to 64"},
        {"takes", "urgencies joined by ;, such as time-critical;urgent"},
        {"mobilisation", "whole minutes"},
        {"same_site", "whole minutes"},
        {"stabilisation", "whole minutes, or logs"},
        {"handover", "whole minutes, or logs"},
        {"typical_journey", "whole minutes, or logs"},
        {"speed", "km/h from 1 to 1000, or logs"},
        {"worthwhile", "a share from 0 to 1"},
        {"unknown_urgency", "time-critical, urgent or planned"},
        {"hours", "24h, or from and to, such as 08:00-20:00"},
        {"days", "weekdays joined by ;, such as mon;tue"},
    };
    G_STATIC_ASSERT(ENGINE_MOST_TEAMS == 64); // as said above
    for (guint i = 0; i < G_N_ELEMENTS(forms); i++)
        if (!strcmp(forms[i].key, key))
            return forms[i].form;
    return "whole minutes, no, or any"; // of [wait]
}

static bool refuse_value(GError **error, const char *path, const char *group, const char *key) {
    char *why = g_strconcat("this value is not allowed; it holds ", form_of(key), NULL);
    fail(error, path, group, key, why);
    g_free(why);
    return false;
}

static bool read_section(Rules *r, GKeyFile *keys, const char *path, const char *group,
                         GError **error) {
    RulesRoster *roster =
        g_str_has_prefix(group, "roster ") ? add_roster(r, group + strlen("roster ")) : NULL;
    RulesTeam *team =
        g_str_has_prefix(group, "team ") ? add_team(r, group + strlen("team ")) : NULL;
    const bool rules = !strcmp(group, "rules"), wait = !strcmp(group, "wait");
    if (!roster && !team && !rules && !wait)
        return fail(error, path, group, "", "no such section");
    bool fine = true;
    char **names = g_key_file_get_keys(keys, group, NULL, NULL);
    for (char **key = names; fine && key && *key; key++) {
        char *value = g_key_file_get_value(keys, group, *key, NULL);
        bool good = true;
        char *comment = strstr(value, " #"); // behind a value, too
        if (comment)
            *comment = 0;
        g_strstrip(value);
        const bool known = rules    ? set_rule(r, *key, value, &good)
                           : wait   ? set_wait(r, *key, value, &good)
                           : roster ? set_hours(&roster->hours, *key, value, &good)
                                    : set_team(team, *key, value, &good);
        if (!known)
            fine = fail(error, path, group, *key, "no such key");
        else if (!good)
            fine = refuse_value(error, path, group, *key);
        g_free(value);
    }
    g_strfreev(names);
    if (fine && team && !team->base)
        fine = fail(error, path, group, "base", "each team needs one");
    return fine;
}

static bool read_file(Rules *r, const char *path, GError **error) {
    GKeyFile *keys = g_key_file_new();
    bool fine = keyfile_load(keys, path, error);
    if (!fine)
        g_prefix_error(error, "%s: ", path);
    char **groups = g_key_file_get_groups(keys, NULL);
    for (char **group = groups; fine && *group; group++)
        fine = read_section(r, keys, path, *group, error);
    g_strfreev(groups);
    g_key_file_unref(keys);
    if (fine && r->named->len > ENGINE_MOST_TEAMS)
        fine = fail(error, path, "team", "", "at most 64 teams");
    return fine;
}

static void free_roster(gpointer data) {
    g_free(((RulesRoster *)data)->name);
    g_free(data);
}

static void free_team(gpointer data) {
    g_free(((RulesTeam *)data)->name);
    g_free(((RulesTeam *)data)->base);
    g_free(data);
}

static Rules *defaults(void) {
    Rules *r = g_new0(Rules, 1);
    r->teams = 8;
    r->bases = g_ptr_array_new_with_free_func(g_free);
    r->rosters = g_ptr_array_new_with_free_func(free_roster);
    r->named = g_ptr_array_new_with_free_func(free_team);
    r->takes = (1u << RULES_CLASSES) - 1;
    r->mobilisation = 30;
    r->same_site = 10;
    r->stabilisation = r->handover = r->typical = RULES_FROM_LOGS;
    r->speed = NAN;
    r->wait[CODE_urgency_URGENT - 1] = 120;
    r->wait[CODE_urgency_PLANNED - 1] = 720;
    r->unknown_class = CODE_urgency_URGENT - 1;
    r->offered_text = g_strdup("all");
    r->worthwhile = 0.05;
    return r;
}

Rules *rules_load(const char *path, const Network *network, GError **error) {
    Rules *r = defaults();
    bool fine = !path || read_file(r, path, error);
    fine = fine && (r->offered = condition_parse(r->offered_text, error));
    if (!fine) {
        rules_free(r);
        return NULL;
    }
    if (r->named->len > 0)
        r->teams = r->named->len;
    if (r->rosters->len == 0) {
        add_roster(r, "round-the-clock");
        RulesHours *day = &add_roster(r, "days")->hours;
        day->from = network->day_starts, day->to = network->day_ends;
    }
    for (guint i = 0; i < r->named->len; i++) {
        RulesTeam *team = r->named->pdata[i];
        team->takes = team->takes ? team->takes : r->takes;
    }
    return r;
}

void rules_free(Rules *r) {
    if (!r)
        return;
    g_ptr_array_unref(r->bases);
    g_ptr_array_unref(r->rosters);
    g_ptr_array_unref(r->named);
    condition_free(r->offered);
    g_free(r->offered_text);
    g_free(r);
}

char *rules_hours_text(const RulesHours *h) {
    GString *text = g_string_new(NULL);
    unsigned days = 0;
    for (int d = 0; d < 7; d++)
        days += h->day[d];
    if (h->to - h->from == WHEN_DAY)
        g_string_append(text, days == 7 ? "round the clock" : "24 hours from each start");
    else
        g_string_append_printf(text, "%02d:%02d to %02d:%02d", h->from / 60, h->from % 60,
                               h->to % WHEN_DAY / 60, h->to % 60);
    if (days < 7)
        g_string_append(text, " on");
    for (int d = 0; d < 7 && days < 7; d++)
        if (h->day[d])
            g_string_append_printf(text, " %s", weekdays[d]);
    return g_string_free(text, FALSE);
}
