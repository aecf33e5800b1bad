// SPDX-License-Identifier: GPL-3.0-or-later
// Reads the keys of a [log PATTERN] section.
#include "intake/logsettings.h"

#include "base/visible.h"
#include "intake/reader.h"

#include <gio/gio.h>

#include <string.h>

// A word out of a list of words with their values; false if it is none of them.
typedef struct {
    const char *word;
    int value;
} Word;

static bool choose(const char *value, const Word *words, int *chosen) {
    for (; words->word; words++)
        if (!g_ascii_strcasecmp(value, words->word)) {
            *chosen = words->value;
            return true;
        }
    return false;
}

static bool choose_char(const char *value, const Word *words, char *chosen) {
    int c = 0;
    const bool good = choose(value, words, &c);
    *chosen = (char)c;
    return good;
}

static bool read_integer(const char *value, gint64 low, gint64 high, int *result) {
    gint64 n = 0;
    const bool good = g_ascii_string_to_signed(value, 10, low, high, &n, NULL);
    *result = (int)n;
    return good;
}

// Whether iconv has that encoding. What every system has and this one can't open is no wrong
// setting.
static bool read_encoding(LogSettings *s, const char *value, GError **error) {
    static const char *const everywhere[] = {"utf-8",        "utf-16",     "utf-16le",   "utf-16be",
                                             "windows-1252", "iso-8859-1", "iso-8859-15"};
    GIConv conv = g_iconv_open("UTF-8", value);
    s->encoding = g_strdup(value);
    if ((intptr_t)conv != -1)
        return g_iconv_close(conv) == 0;
    for (size_t i = 0; i < G_N_ELEMENTS(everywhere); i++)
        if (!g_ascii_strcasecmp(value, everywhere[i]))
            g_set_error(error, READER_ERROR, READER_ERROR_INPUT,
                        "the system's converter of %s cannot be read", value);
    return false;
}

static bool read_zone(LogSettings *s, const char *value, GError **error) {
    GError *why = NULL;
    s->zone = when_zone_new(value, &why);
    if (g_error_matches(why, G_IO_ERROR, G_IO_ERROR_FAILED)) // it is known and can't be read
        g_set_error_literal(error, READER_ERROR, READER_ERROR_INPUT, why->message);
    g_clear_error(&why);
    return s->zone != NULL;
}

static bool read_keeper(LogSettings *s, const char *value) {
    s->recorded_by = visible_copy(value, -1);
    return strcmp(s->recorded_by, "all") != 0;
}

// Takes one key. False if key or value is not understood, with an error if that is not the user's
// fault.
static bool set(LogSettings *s, const char *key, const char *value, GError **error) {
    static const Word delimiters[] = {{"comma", ','}, {"semicolon", ';'}, {"tab", '\t'}, {NULL, 0}};
    static const Word decimals[] = {{"point", '.'}, {"comma", ','}, {NULL, 0}};
    static const Word orders[] = {
        {"ymd", DATE_ORDER_YMD}, {"dmy", DATE_ORDER_DMY}, {"mdy", DATE_ORDER_MDY}, {NULL, 0}};
    static const Word bases[] = {{"1900", 1900}, {"1904", 1904}, {NULL, 0}};
    int number = 0;
    bool good = true;
    if (!strcmp(key, "encoding"))
        good = read_encoding(s, value, error);
    else if (!strcmp(key, "recorded_by"))
        good = read_keeper(s, value);
    else if (!strcmp(key, "received"))
        good = when_read_date(value, strlen(value), &s->received);
    else if (!strcmp(key, "timezone"))
        good = read_zone(s, value, error);
    else if (!strcmp(key, "delimiter"))
        good = choose_char(value, delimiters, &s->delimiter);
    else if (!strcmp(key, "decimal"))
        good = choose_char(value, decimals, &s->decimal);
    else if (!strcmp(key, "date_order"))
        good = choose(value, orders, &number), s->date_order = (DateOrder)number;
    else if (!strcmp(key, "serial_base"))
        good = choose(value, bases, &s->serial_base);
    else if (!strcmp(key, "century_pivot"))
        good = read_integer(value, 0, 100, &s->century_pivot);
    else if (!strcmp(key, "header_row"))
        good = read_integer(value, 1, INT32_MAX, &number), s->header_row = (uint32_t)number;
    else if (!strcmp(key, "list_separator"))
        good = strlen(value) == 1, s->separator = *value;
    else
        good = false;
    return good;
}

static void say_wrong(const LogSettings *s, const Network *network, const char *key,
                      const char *value, GError **error) {
    static const char *const keys[][2] = {
        {"delimiter", "comma, semicolon or tab"},
        {"encoding", "an encoding that the system can read, such as utf-8 or windows-1252"},
        {"date_order", "dmy, mdy or ymd"},
        {"decimal", "point or comma"},
        {"century_pivot", "the first two-digit year of the 1900s, 0 to 100"},
        {"timezone", "a time zone that the system knows, such as Europe/Paris"},
        {"recorded_by", "the code of the unit whose log it is, which is not all"},
        {"received", "a date, such as 2031-04-01"},
        {"header_row", "the line of the heading, 1 or more"},
        {"serial_base", "1900 or 1904"},
        {"list_separator", "one sign, such as ;"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(keys); i++)
        if (!strcmp(key, keys[i][0])) {
            g_set_error(error, READER_ERROR, READER_ERROR_SETTING,
                        "%s/network.ini: [%s] %s = %s: this value is not allowed; it holds %s",
                        network->dir, s->group, key, value, keys[i][1]);
            return;
        }
    g_set_error(error, READER_ERROR, READER_ERROR_SETTING, "%s/network.ini: [%s] %s: no such key",
                network->dir, s->group, key);
}

char *logsettings_group(const Network *network, const char *name) {
    char *base = g_path_get_basename(name);
    char **groups = g_key_file_get_groups(network->keys, NULL);
    char *group = NULL;
    for (char **g = groups; *g && !group; g++)
        if (g_str_has_prefix(*g, "log ") && g_pattern_match_simple(*g + 4, base))
            group = g_strdup(*g);
    g_strfreev(groups);
    g_free(base);
    return group;
}

static bool read_mapping(LogSettings *s, const Network *network, const char *value,
                         GError **error) {
    char *path =
        g_path_is_absolute(value) ? g_strdup(value) : g_build_filename(network->dir, value, NULL);
    s->mapping = mapping_read(path, error);
    if (!s->mapping)
        g_prefix_error(error, "%s/network.ini: [%s] mapping: ", network->dir, s->group);
    g_free(path);
    return s->mapping != NULL;
}

static bool was_before(char **keys, char **key) {
    for (char **k = keys; k < key; k++)
        if (!strcmp(*k, *key))
            return true;
    return false;
}

LogSettings *logsettings_find(const Network *network, const char *name, GError **error) {
    LogSettings *s = g_new0(LogSettings, 1);
    s->century_pivot = -1;
    s->received = WHEN_UNKNOWN;
    s->group = logsettings_group(network, name);
    char **keys = s->group ? g_key_file_get_keys(network->keys, s->group, NULL, NULL) : NULL;
    bool good = true;
    for (char **key = keys; good && key && *key; key++) {
        if (was_before(keys, key))
            continue; // GKeyFile lists a key that is written twice twice, each with the last value
        char *value = g_strstrip(g_key_file_get_value(network->keys, s->group, *key, NULL));
        GError *why = NULL;
        good = !strcmp(*key, "mapping") ? read_mapping(s, network, value, &why)
                                        : set(s, *key, value, &why);
        if (why)
            g_propagate_error(error, why);
        else if (!good)
            say_wrong(s, network, *key, value, error);
        g_free(value);
    }
    g_strfreev(keys);
    if (good)
        return s;
    logsettings_free(s);
    return NULL;
}

void logsettings_free(LogSettings *s) {
    if (!s)
        return;
    g_free(s->group);
    mapping_free(s->mapping);
    g_free(s->encoding);
    g_free(s->recorded_by);
    when_zone_free(s->zone);
    g_free(s);
}
