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

static bool parse_one(const char *text, int year_starts, int *first, int *end) {
    int y, n, used = 0;
    if (sscanf(text, "%4d%n", &y, &used) != 1 || used != 4)
        return false;
    const int start = y * 12 + year_starts - 1;
    if (text[4] == 0)
        return *first = start, *end = start + 12, true;
    used = 0;
    if (sscanf(text, "%*4d-Q%1d%n", &n, &used) == 1 && text[used] == 0 && used == 7 && n >= 1 &&
        n <= 4)
        return *first = start + 3 * (n - 1), *end = *first + 3, true;
    used = 0;
    if (sscanf(text, "%*4d-%2d%n", &n, &used) == 1 && text[used] == 0 && used == 7 && n >= 1 &&
        n <= 12)
        return *first = y * 12 + n - 1, *end = *first + 1, true;
    return false;
}

bool period_parse(const char *text, int year_starts, int *first, int *end, GError **error) {
    char **ends = g_strsplit(text, "..", 2);
    int last = 0;
    bool good = ends[0] && parse_one(ends[0], year_starts, first, end) &&
                (!ends[1] || (parse_one(ends[1], year_starts, &last, end) && last >= *first));
    g_strfreev(ends);
    if (!good)
        g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE,
                    "period '%s': write 2031, 2031-Q2, 2031-07 or a span 2030-Q3..2031-Q2", text);
    return good;
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
    for (PeriodKind kind = PERIOD_YEAR; kind <= PERIOD_MONTH; kind++) {
        const int n = length[kind], origin = year_starts - 1;
        for (int m = first - ((first - origin) % n + n) % n; m < end; m += n)
            add(list, kind, m, m + n, year_starts);
    }
    return list;
}
