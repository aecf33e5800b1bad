// SPDX-License-Identifier: GPL-3.0-or-later
// Civil time. Day arithmetic after the era-based method (common practice); offsets come from the
// system's zone database.
#include "record/when.h"

#include <gio/gio.h>

typedef struct {
    int32_t from;   // first UTC minute of the offset
    int32_t offset; // minutes east of UTC
} Spell;

enum { DAYS = 47847 }; // from 1970-01-01 to 2100-12-31

struct WhenZone {
    GArray *spells;         // of Spell, rising
    uint16_t day[DAYS + 3]; // spell of the first UTC minute of each day, and of some days more
};

int32_t when_day(int year, int month, int day) {
    year -= month <= 2;
    const int era = (year >= 0 ? year : year - 399) / 400;
    const int yoe = year - era * 400;
    const int doy = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    return era * 146097 + yoe * 365 + yoe / 4 - yoe / 100 + doy - 719468;
}

void when_civil(int32_t day, int *year, int *month, int *day_of_month) {
    const int z = day + 719468, era = (z >= 0 ? z : z - 146096) / 146097, doe = z - era * 146097;
    const int yoe = (doe - doe / 1460 + doe / 36524 - doe / 146096) / 365;
    const int doy = doe - (365 * yoe + yoe / 4 - yoe / 100), mp = (5 * doy + 2) / 153;
    *day_of_month = doy - (153 * mp + 2) / 5 + 1;
    *month = mp < 10 ? mp + 3 : mp - 9;
    *year = yoe + era * 400 + (*month <= 2);
}

bool when_valid_date(int year, int month, int day) {
    static const uint8_t days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    if (year < 1 || year > 9999 || month < 1 || month > 12)
        return false;
    const bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    return day >= 1 && day <= days[month - 1] + (month == 2 && leap);
}

int32_t when_day_of(int32_t minute) {
    return minute >= 0 ? minute / WHEN_DAY : -((-minute + WHEN_DAY - 1) / WHEN_DAY);
}

int when_weekday(int32_t day) {
    return (int)(((day + 3) % 7 + 7) % 7); // 1970-01-01 was a Thursday
}

static int32_t offset_at(GTimeZone *tz, int32_t utc) {
    const int i = g_time_zone_find_interval(tz, G_TIME_TYPE_UNIVERSAL, (gint64)utc * 60);
    return i < 0 ? 0 : g_time_zone_get_offset(tz, i) / 60;
}

// The first minute in (low, high] with the offset that high has, where low has another.
static int32_t change_between(GTimeZone *tz, int32_t low, int32_t high, int32_t offset) {
    while (high - low > 1) {
        const int32_t middle = low + (high - low) / 2;
        if (offset_at(tz, middle) == offset)
            high = middle;
        else
            low = middle;
    }
    return high;
}

// Index of the spell that holds a UTC minute.
static guint spell_of(const WhenZone *zone, int32_t utc) {
    guint low = 0, high = zone->spells->len;
    while (high - low > 1) {
        const guint middle = (low + high) / 2;
        if (g_array_index(zone->spells, Spell, middle).from <= utc)
            low = middle;
        else
            high = middle;
    }
    return low;
}

static int interval_at(GTimeZone *tz, int32_t day) {
    return g_time_zone_find_interval(tz, G_TIME_TYPE_UNIVERSAL, (gint64)day * WHEN_DAY * 60);
}

// Adds the spells that begin after the start of day `low` and up to that of day `high`. Between two
// days of one interval nothing changes, so that few days are looked at.
static void add_spells(GTimeZone *tz, GArray *spells, int32_t low, int32_t high) {
    if (high - low > 1) {
        if (interval_at(tz, low) == interval_at(tz, high))
            return;
        add_spells(tz, spells, low, low + (high - low) / 2);
        add_spells(tz, spells, low + (high - low) / 2, high);
        return;
    }
    const int32_t offset = offset_at(tz, high * WHEN_DAY);
    if (offset != g_array_index(spells, Spell, spells->len - 1).offset) {
        const int32_t from = change_between(tz, low * WHEN_DAY, high * WHEN_DAY, offset);
        const Spell spell = {from, offset};
        g_array_append_val(spells, spell);
    }
}

WhenZone *when_zone_new(const char *name, GError **error) {
    GTimeZone *tz = g_time_zone_new_identifier(name);
    if (!tz) {
        char *path = g_build_filename("/usr/share/zoneinfo", name, NULL);
        if (g_file_test(path, G_FILE_TEST_EXISTS))
            g_set_error(error, G_IO_ERROR, G_IO_ERROR_FAILED, "%s: cannot be read", path);
        else
            g_set_error(error, G_IO_ERROR, G_IO_ERROR_INVALID_ARGUMENT,
                        "the system knows no time zone '%s'", name);
        g_free(path);
        return NULL;
    }
    WhenZone *zone = g_new(WhenZone, 1);
    zone->spells = g_array_new(FALSE, FALSE, sizeof(Spell));
    const Spell first = {0, offset_at(tz, 0)};
    g_array_append_val(zone->spells, first);
    add_spells(tz, zone->spells, 0, DAYS);
    g_time_zone_unref(tz);
    guint spell = 0;
    for (int32_t day = 0; day < DAYS + 3; day++) {
        while (spell + 1 < zone->spells->len &&
               g_array_index(zone->spells, Spell, spell + 1).from <= day * WHEN_DAY)
            spell++;
        zone->day[day] = (uint16_t)spell;
    }
    return zone;
}

void when_zone_free(WhenZone *zone) {
    if (!zone)
        return;
    g_array_unref(zone->spells);
    g_free(zone);
}

// Whether no change of offset lies between the starts of two days, so that no search is needed.
static bool steady(const WhenZone *zone, int32_t first, int32_t last) {
    return first >= 0 && last < DAYS + 3 && zone->day[first] == zone->day[last];
}

static int32_t offset_of(const WhenZone *zone, guint spell) {
    return g_array_index(zone->spells, Spell, spell).offset;
}

int32_t when_to_local(const WhenZone *zone, int32_t utc) {
    const int32_t day = when_day_of(utc);
    return utc + offset_of(zone, steady(zone, day, day + 1) ? zone->day[day] : spell_of(zone, utc));
}

WhenFit when_to_utc(const WhenZone *zone, int32_t local, int32_t *utc, int32_t *second) {
    const int32_t day = when_day_of(local); // no offset is longer than a day
    if (steady(zone, day - 1, day + 2)) {
        *utc = local - offset_of(zone, zone->day[day]);
        return WHEN_OK;
    }
    const guint middle = spell_of(zone, local);
    int found = 0;
    for (guint i = middle > 0 ? middle - 1 : 0; i < zone->spells->len && i <= middle + 1; i++) {
        const int32_t at = local - offset_of(zone, i);
        if (spell_of(zone, at) == i) {
            *(found == 0 ? utc : second) = at;
            found++;
        }
    }
    return found == 0 ? WHEN_SKIPPED : found == 1 ? WHEN_OK : WHEN_TWICE;
}

// Reads exactly n digits.
static bool digits(const char *text, int n, int *value) {
    *value = 0;
    for (int i = 0; i < n; i++) {
        if (!g_ascii_isdigit(text[i]))
            return false;
        *value = *value * 10 + (text[i] - '0');
    }
    return true;
}

bool when_read_date(const char *text, size_t length, int32_t *day) {
    int y, m, d;
    if (length != 10 || text[4] != '-' || text[7] != '-' || !digits(text, 4, &y) ||
        !digits(text + 5, 2, &m) || !digits(text + 8, 2, &d) || !when_valid_date(y, m, d))
        return false;
    *day = when_day(y, m, d);
    return true;
}

// Reads Z, +hh, +hhmm or +hh:mm at the end of a time.
static bool read_offset(const char *text, size_t length, int *offset) {
    int h, m = 0;
    *offset = 0;
    if (length == 1 && (*text == 'Z' || *text == 'z'))
        return true;
    if ((*text != '+' && *text != '-') || length < 3 || !digits(text + 1, 2, &h))
        return false;
    if (length == 6   ? text[3] != ':' || !digits(text + 4, 2, &m)
        : length == 5 ? !digits(text + 3, 2, &m)
                      : length != 3)
        return false;
    *offset = (h * 60 + m) * (*text == '-' ? -1 : 1);
    return h <= 14 && m <= 59;
}

// Reads seconds and their fraction, which are cut; returns the bytes used.
static size_t skip_seconds(const char *text, size_t length) {
    int s;
    if (length < 3 || *text != ':' || !digits(text + 1, 2, &s) || s > 60)
        return 0;
    size_t used = 3;
    if (used < length && (text[used] == '.' || text[used] == ','))
        for (used++; used < length && g_ascii_isdigit(text[used]);)
            used++;
    return used;
}

bool when_read_clock(int32_t day, const char *text, size_t length, int32_t *minute,
                     bool *has_offset) {
    int h, m, offset = 0;
    if (length < 6 || (text[0] != 'T' && text[0] != ' ' && text[0] != 't') ||
        !digits(text + 1, 2, &h) || text[3] != ':' || !digits(text + 4, 2, &m) || m > 59 ||
        h > 24 || (h == 24 && m > 0))
        return false;
    size_t used = 6;
    used += skip_seconds(text + used, length - used);
    *has_offset = used < length;
    if (*has_offset && !read_offset(text + used, length - used, &offset))
        return false;
    if (day < 0 || day >= DAYS)
        return false;
    *minute = day * WHEN_DAY + h * 60 + m - offset;
    return true;
}
