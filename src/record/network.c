// SPDX-License-Identifier: GPL-3.0-or-later
// Reads network.ini and units.csv.
#include "record/network.h"

#include "base/csvtable.h"
#include "base/keyfile.h"
#include "base/visible.h"

#include <string.h>

G_DEFINE_QUARK(crossward - network, network_error)

static bool fail(const Network *n, GError **error, const char *group, const char *key,
                 const char *why) {
    g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE, "%s/network.ini: [%s]%s%s: %s", n->dir,
                group, *key ? " " : "", key, why);
    return false;
}

// hh:mm of a day, 24:00 allowed.
#define MOST_MINUTES 10000000 // 19 years: sums of two stay far from the end of 32 bits

static bool read_clock(const char *text, int *minutes) {
    if (strlen(text) != 5 || text[2] != ':')
        return false;
    for (int i = 0; i < 5; i++)
        if (i != 2 && !g_ascii_isdigit(text[i]))
            return false;
    const int m = g_ascii_digit_value(text[3]) * 10 + g_ascii_digit_value(text[4]);
    *minutes = (g_ascii_digit_value(text[0]) * 10 + g_ascii_digit_value(text[1])) * 60 + m;
    return m < 60 && *minutes <= WHEN_DAY;
}

static bool read_minutes(const char *text, int32_t *minutes) {
    gint64 value;
    if (!g_ascii_string_to_signed(text, 10, 0, MOST_MINUTES, &value, NULL))
        return false;
    *minutes = (int32_t)value;
    return true;
}

static const char *const weekdays[] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};

static bool read_weekend(const char *text, bool weekend[7]) {
    memset(weekend, 0, 7 * sizeof weekend[0]);
    char **parts = g_strsplit(text, ";", -1);
    bool good = true;
    for (char **p = parts; *p && good; p++) {
        int d = 0;
        while (d < 7 && g_ascii_strcasecmp(g_strstrip(*p), weekdays[d]) != 0)
            d++;
        good = d < 7 || **p == 0;
        if (d < 7)
            weekend[d] = true;
    }
    g_strfreev(parts);
    return good;
}

static int compare_days(gconstpointer a, gconstpointer b) {
    const int32_t x = *(const int32_t *)a, y = *(const int32_t *)b;
    return x < y ? -1 : x > y;
}

static bool read_holidays(const char *text, GArray *days) {
    char **parts = g_strsplit(text, ";", -1);
    bool good = true;
    for (char **p = parts; *p && good; p++) {
        int32_t day;
        g_strstrip(*p);
        good = **p == 0 || when_read_date(*p, strlen(*p), &day);
        if (good && **p)
            g_array_append_val(days, day);
    }
    g_strfreev(parts);
    g_array_sort(days, compare_days);
    return good;
}

static bool set_network_key(Network *n, const char *key, char *value, bool *good) {
    gint64 month;
    if (!strcmp(key, "name") || !strcmp(key, "notice"))
        *good = g_utf8_strlen(value, -1) <= CSVTABLE_LONGEST;
    if (!strcmp(key, "name"))
        g_free(n->name), n->name = visible_copy(value, -1);
    else if (!strcmp(key, "notice"))
        g_free(n->notice), n->notice = *value ? visible_copy(value, -1) : NULL;
    else if (!strcmp(key, "timezone"))
        g_free(n->timezone), n->timezone = g_strdup(value);
    else if (!strcmp(key, "year_starts")) {
        *good = g_ascii_string_to_signed(value, 10, 1, 12, &month, NULL);
        n->year_starts = *good ? (int)month : 1;
    } else if (!strcmp(key, "day_starts"))
        *good = read_clock(value, &n->day_starts);
    else if (!strcmp(key, "day_ends"))
        *good = read_clock(value, &n->day_ends);
    else if (!strcmp(key, "weekend"))
        *good = read_weekend(value, n->weekend);
    else if (!strcmp(key, "holidays"))
        *good = read_holidays(value, n->holidays);
    else if (!strcmp(key, "shared_ids")) {
        n->shared_ids = !strcmp(value, "yes");
        *good = n->shared_ids || !strcmp(value, "no");
    } else if (!strcmp(key, "join_window"))
        *good = read_minutes(value, &n->join_window);
    else if (!strcmp(key, "include"))
        g_free(n->include), n->include = g_strdup(value);
    else
        return false;
    return true;
}

static bool set_target(Network *n, const char *key, char *value, bool *good) {
    if (!strcmp(key, "source")) {
        g_free(n->target_source);
        n->target_source = g_strdup(value);
        return true;
    }
    const unsigned u = field_code(field_table[FIELD_urgency].codes, key, strlen(key));
    if (u == 0)
        return false;
    *good = read_minutes(value, &n->target[u]);
    return true;
}

static bool set_cap(Network *n, const char *key, char *value, bool *good) {
    int32_t *cap = !strcmp(key, "wait")       ? &n->cap_wait
                   : !strcmp(key, "journey")  ? &n->cap_journey
                   : !strcmp(key, "handover") ? &n->cap_handover
                   : !strcmp(key, "away")     ? &n->cap_away
                                              : NULL;
    if (cap)
        *good = read_minutes(value, cap);
    return cap != NULL;
}

static bool set_base(Network *n, const char *key, char *value, bool *good) {
    char *end;
    if (strcmp(key, "weekly_hours") != 0)
        return false;
    n->weekly_hours = g_ascii_strtod(value, &end);
    *good = end != value && *end == 0 && n->weekly_hours > 0 && n->weekly_hours <= 168;
    return true;
}

// What a key holds, for one whose value is not allowed.
static const char *form_of(const char *key) {
    static const struct {
        const char *key, *form;
    } forms[] = {
        {"name", "at most " G_STRINGIFY(CSVTABLE_LONGEST) " characters"},
        {"notice", "at most " G_STRINGIFY(CSVTABLE_LONGEST) " characters"},
        {"year_starts", "a month, 1 to 12"},
        {"day_starts", "a time of day, such as 08:00"},
        {"day_ends", "a time of day, such as 20:00"},
        {"weekend", "weekdays joined by ;, such as sat;sun"},
        {"holidays", "dates joined by ;, such as 2031-12-25;2031-12-26"},
        {"shared_ids", "yes or no"},
        {"weekly_hours", "hours, more than 0 and at most 168"},
    };
    for (guint i = 0; i < G_N_ELEMENTS(forms); i++)
        if (!strcmp(forms[i].key, key))
            return forms[i].form;
    return "whole minutes, at most " G_STRINGIFY(MOST_MINUTES);
}

static bool refuse_value(const Network *n, GError **error, const char *group, const char *key) {
    char *why = g_strconcat("this value is not allowed; it holds ", form_of(key), NULL);
    fail(n, error, group, key, why);
    g_free(why);
    return false;
}

static bool read_section(Network *n, const char *group, GError **error) {
    bool (*set)(Network *, const char *, char *, bool *) = !strcmp(group, "network")
                                                               ? set_network_key
                                                           : !strcmp(group, "targets") ? set_target
                                                           : !strcmp(group, "caps")    ? set_cap
                                                           : !strcmp(group, "base")    ? set_base
                                                                                       : NULL;
    if (!set)
        return g_str_has_prefix(group, "log ") || fail(n, error, group, "", "no such section");
    char **keys = g_key_file_get_keys(n->keys, group, NULL, NULL);
    bool fine = true;
    for (char **key = keys; fine && key && *key; key++) {
        char *value = g_key_file_get_value(n->keys, group, *key, NULL);
        bool good = true;
        g_strstrip(value);
        if (!set(n, *key, value, &good))
            fine = fail(n, error, group, *key, "no such key");
        else if (!good)
            fine = refuse_value(n, error, group, *key);
        g_free(value);
    }
    g_strfreev(keys);
    return fine;
}

// Whether an error says that a file which need not be there is not.
static bool is_absent(GError **error) {
    if (!g_error_matches(*error, G_FILE_ERROR, G_FILE_ERROR_NOENT))
        return false;
    g_clear_error(error);
    return true;
}

static bool read_ini(Network *n, GError **error) {
    char *path = g_build_filename(n->dir, "network.ini", NULL);
    GError *why = NULL;
    bool fine = true;
    if (keyfile_load(n->keys, path, &why)) {
        char **groups = g_key_file_get_groups(n->keys, NULL);
        for (char **group = groups; fine && *group; group++)
            fine = read_section(n, *group, error);
        g_strfreev(groups);
    } else if (!is_absent(&why)) {
        g_propagate_prefixed_error(error, why, "%s: ", path);
        fine = false;
    }
    g_free(path);
    return fine;
}

// Adds a row of units.csv: a unit's code, and the name by which outputs call it.
static bool add_unit(Network *n, const CsvTable *table, guint row, GError **error) {
    char *code = visible_copy(csvtable_cell(table, row, "unit"), -1);
    const char *why = *code == 0                              ? "the unit's code is missing"
                      : g_hash_table_contains(n->units, code) ? "this unit stands further up, too"
                                                              : NULL;
    if (why) {
        g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE, "%s/units.csv:%u: %s", n->dir,
                    csvtable_line(table, row), why);
        g_free(code);
        return false;
    }
    g_hash_table_insert(n->units, code, visible_copy(csvtable_cell(table, row, "name"), -1));
    return true;
}

static bool read_units(Network *n, GError **error) {
    static const char *const columns[] = {"unit", "name", "region", "beds", NULL};
    char *path = g_build_filename(n->dir, "units.csv", NULL);
    GError *why = NULL;
    CsvTable *table = csvtable_read(path, columns, &why);
    g_free(path);
    if (!table && !is_absent(&why)) {
        g_propagate_error(error, why);
        return false;
    }
    if (!table)
        return true;
    n->units = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    bool good = true;
    for (guint r = 0; good && r < csvtable_rows(table); r++)
        good = add_unit(n, table, r, error);
    csvtable_free(table);
    return good;
}

static bool is_folder(const char *dir, GError **error) {
    GDir *folder = g_dir_open(dir, 0, error);
    if (!folder)
        g_prefix_error(error, "--network: ");
    if (folder)
        g_dir_close(folder);
    return folder != NULL;
}

static bool set_zone(Network *n, GError **error) {
    if (*n->timezone == 0)
        return fail(n, error, "network", "timezone", "no zone is named");
    n->zone = when_zone_new(n->timezone, error);
    if (!n->zone && n->dir)
        g_prefix_error(error, "%s/network.ini: [network] timezone: ", n->dir);
    return n->zone != NULL;
}

Network *network_load(const char *dir, GError **error) {
    Network *n = g_new0(Network, 1);
    n->dir = g_strdup(dir);
    n->timezone = g_strdup("UTC");
    n->name = g_strdup("");
    n->year_starts = 1;
    n->day_starts = 8 * 60;
    n->day_ends = 20 * 60;
    n->weekend[5] = n->weekend[6] = true;
    n->holidays = g_array_new(FALSE, FALSE, sizeof(int32_t));
    n->join_window = 120;
    n->weekly_hours = 48;
    n->cap_wait = n->cap_journey = n->cap_handover = n->cap_away = INT32_MAX;
    n->keys = g_key_file_new();
    for (int u = 0; u < CODE_urgency_END; u++)
        n->target[u] = -1;
    if ((!dir || (is_folder(dir, error) && read_ini(n, error) && read_units(n, error))) &&
        set_zone(n, error))
        return n;
    network_free(n);
    return NULL;
}

void network_free(Network *n) {
    if (!n)
        return;
    g_free(n->dir);
    g_free(n->name);
    g_free(n->notice);
    g_free(n->timezone);
    when_zone_free(n->zone);
    g_array_unref(n->holidays);
    g_free(n->include);
    g_free(n->target_source);
    g_key_file_unref(n->keys);
    if (n->units)
        g_hash_table_unref(n->units);
    g_free(n);
}

static void add_setting(GPtrArray *pairs, const char *section, const char *key, char *value) {
    g_ptr_array_add(pairs, g_strconcat(section, key, NULL));
    g_ptr_array_add(pairs, value);
}

static char *clock_text(int minutes) {
    return g_strdup_printf("%02d:%02d", minutes / 60, minutes % 60);
}

// Minutes, "" where they stand for nothing set.
static char *minutes_text(int32_t minutes, int32_t unset) {
    return minutes == unset ? g_strdup("") : g_strdup_printf("%d", minutes);
}

static char *weekend_text(const Network *n) {
    GString *out = g_string_new(NULL);
    for (int d = 0; d < 7; d++)
        if (n->weekend[d])
            g_string_append_printf(out, "%s%s", out->len ? ";" : "", weekdays[d]);
    return g_string_free(out, FALSE);
}

static char *holidays_text(const Network *n) {
    GString *out = g_string_new(NULL);
    for (guint i = 0; i < n->holidays->len; i++) {
        int year, month, day;
        when_civil(g_array_index(n->holidays, int32_t, i), &year, &month, &day);
        g_string_append_printf(out, "%s%04d-%02d-%02d", out->len ? ";" : "", year, month, day);
    }
    return g_string_free(out, FALSE);
}

void network_settings(const Network *n, GPtrArray *pairs) {
    char hours[G_ASCII_DTOSTR_BUF_SIZE];
    g_ascii_formatd(hours, sizeof hours, "%.12g", n->weekly_hours);
    add_setting(pairs, "", "timezone", g_strdup(n->timezone));
    add_setting(pairs, "", "network", g_strdup(n->name));
    add_setting(pairs, "", "year_starts", g_strdup_printf("%d", n->year_starts));
    add_setting(pairs, "", "day_starts", clock_text(n->day_starts));
    add_setting(pairs, "", "day_ends", clock_text(n->day_ends));
    add_setting(pairs, "", "weekend", weekend_text(n));
    add_setting(pairs, "", "holidays", holidays_text(n));
    add_setting(pairs, "", "shared_ids", g_strdup(n->shared_ids ? "yes" : "no"));
    add_setting(pairs, "", "join_window", g_strdup_printf("%d", n->join_window));
    add_setting(pairs, "", "include", g_strdup(n->include ? n->include : ""));
    for (unsigned u = 1; u < CODE_urgency_END; u++)
        add_setting(pairs, "targets.", field_code_text(field_table[FIELD_urgency].codes, u),
                    minutes_text(n->target[u], -1));
    add_setting(pairs, "targets.", "source", g_strdup(n->target_source ? n->target_source : ""));
    add_setting(pairs, "caps.", "wait", minutes_text(n->cap_wait, INT32_MAX));
    add_setting(pairs, "caps.", "journey", minutes_text(n->cap_journey, INT32_MAX));
    add_setting(pairs, "caps.", "handover", minutes_text(n->cap_handover, INT32_MAX));
    add_setting(pairs, "caps.", "away", minutes_text(n->cap_away, INT32_MAX));
    add_setting(pairs, "base.", "weekly_hours", g_strdup(hours));
}

static int32_t sum_of_caps(int32_t a, int32_t b) {
    return a == INT32_MAX || b == INT32_MAX || a > INT32_MAX - b ? INT32_MAX : a + b;
}

int32_t network_cap(const Network *n, FieldId from, FieldId to) {
    const struct {
        FieldId from, to;
        int32_t cap;
    } caps[] = {
        {FIELD_requested_at, FIELD_accepted_at, n->cap_wait},
        {FIELD_requested_at, FIELD_at_patient_at, n->cap_wait},
        {FIELD_requested_at, FIELD_departed_at, n->cap_wait},
        {FIELD_at_patient_at, FIELD_departed_at, n->cap_wait},
        {FIELD_team_ready_at, FIELD_departed_at, n->cap_wait},
        {FIELD_departed_at, FIELD_arrived_at, n->cap_journey},
        {FIELD_arrived_at, FIELD_handed_over_at, n->cap_handover},
        {FIELD_team_ready_at, FIELD_returned_at, n->cap_away},
        {FIELD_requested_at, FIELD_arrived_at, sum_of_caps(n->cap_wait, n->cap_journey)},
        {FIELD_departed_at, FIELD_handed_over_at, sum_of_caps(n->cap_journey, n->cap_handover)},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(caps); i++)
        if (caps[i].from == from && caps[i].to == to)
            return caps[i].cap;
    return INT32_MAX;
}

const char *network_unit_name(const Network *network, const char *code) {
    const char *name = network->units ? g_hash_table_lookup(network->units, code) : NULL;
    return name && *name ? name : code;
}

bool network_is_holiday(const Network *n, int32_t day) {
    return g_array_binary_search(n->holidays, &day, compare_days, NULL);
}
