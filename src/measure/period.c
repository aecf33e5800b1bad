// SPDX-License-Identifier: GPL-3.0-or-later
// Periods and their names.
#include "measure/period.h"

#include "record/network.h"

#include <stdio.h>
#include <string.h>

int period_month(int32_t day) {
    int y, m, d;
    when_civil(day, &y, &m, &d);
    return y * 12 + m - 1;
}

int32_t period_first_day(int month) {
    return when_day(month / 12, month % 12 + 1, 1);
}

// Value of n digits, -1 if they are none.
static int digits(const char *text, int n) {
    int value = 0;
    for (int i = 0; i < n; i++) {
        if (!g_ascii_isdigit(text[i]))
            return -1;
        value = value * 10 + g_ascii_digit_value(text[i]);
    }
    return value;
}

static bool parse_one(const char *text, int year_starts, int *first, int *end) {
    const size_t length = strlen(text);
    const int year = length >= 4 ? digits(text, 4) : -1;
    int number = -1;
    if (year < 0)
        return false;
    *first = year * 12 + year_starts - 1;
    *end = *first + 12;
    if (length == 4)
        return true;
    if (length != 7 || text[4] != '-')
        return false;
    if (text[5] == 'Q') {
        number = digits(text + 6, 1);
        *first += 3 * (number - 1);
        *end = *first + 3;
        return number >= 1 && number <= 4;
    }
    number = digits(text + 5, 2);
    *first = year * 12 + number - 1;
    *end = *first + 1;
    return number >= 1 && number <= 12;
}

bool period_parse(const char *text, int year_starts, int *first, int *end, GError **error) {
    char **ends = g_strsplit(text, "..", 2);
    int last = 0;
    const bool good = ends[0] && parse_one(ends[0], year_starts, first, end) &&
                      (!ends[1] || parse_one(ends[1], year_starts, &last, end));
    const bool backwards = good && ends[1] && last < *first;
    g_strfreev(ends);
    if (backwards)
        g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE,
                    "period '%s' ends before it begins: the earlier end comes first", text);
    else if (!good)
        g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE,
                    "period '%s': write 2031, 2031-Q2, 2031-07 or a span 2030-Q3..2031-Q2", text);
    return good && !backwards;
}

static void add(GArray *list, PeriodKind kind, int first, int end, int year_starts) {
    Period p = {.kind = kind, .first = first, .end = end};
    const int year = (first - (year_starts - 1)) / 12;
    if (kind == PERIOD_ALL)
        strcpy(p.name, "all");
    else if (kind == PERIOD_YEAR)
        snprintf(p.name, sizeof p.name, "%d", year);
    else if (kind == PERIOD_QUARTER)
        snprintf(p.name, sizeof p.name, "%d-Q%d", year, (first - (year_starts - 1)) % 12 / 3 + 1);
    else
        snprintf(p.name, sizeof p.name, "%d-%02d", first / 12, first % 12 + 1);
    g_array_append_val(list, p);
}

GArray *period_list(int first, int end, int all_first, int all_end, int year_starts) {
    GArray *list = g_array_new(FALSE, FALSE, sizeof(Period));
    static const int length[] = {0, 12, 3, 1};
    add(list, PERIOD_ALL, all_first, all_end, year_starts);
    for (PeriodKind kind = PERIOD_YEAR; first < end && kind <= PERIOD_MONTH; kind++) {
        const int n = length[kind], origin = year_starts - 1;
        for (int m = first - ((first - origin) % n + n) % n; m < end; m += n)
            add(list, kind, m, m + n, year_starts);
    }
    return list;
}
