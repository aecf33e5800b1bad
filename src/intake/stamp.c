// SPDX-License-Identifier: GPL-3.0-or-later
// Reads dates and times by strict patterns.
#include "intake/stamp.h"

#include <math.h>
#include <string.h>

// What is left of a text that is being read.
typedef struct {
    const char *at, *end;
} Rest;

static bool take(Rest *rest, char c) {
    if (rest->at == rest->end || g_ascii_tolower(*rest->at) != c)
        return false;
    rest->at++;
    return true;
}

static void skip_spaces(Rest *rest) {
    while (take(rest, ' '))
        ;
}

// Reads the digits that come next, at most nine; returns how many.
static int digits(Rest *rest, int *value) {
    int n = 0;
    *value = 0;
    for (; n < 9 && rest->at < rest->end && g_ascii_isdigit(*rest->at); n++)
        *value = *value * 10 + (*rest->at++ - '0');
    return n;
}

static bool two_digits(Rest *rest, int *value) {
    return digits(rest, value) == 2;
}

// :ss and a fraction, which are cut.
static bool skip_seconds(Rest *rest) {
    int s;
    Rest ahead = *rest;
    if (!take(&ahead, ':'))
        return true;
    if (!two_digits(&ahead, &s) || s > 60)
        return false;
    if ((take(&ahead, '.') || take(&ahead, ',')) && digits(&ahead, &s) == 0)
        return false;
    *rest = ahead;
    return true;
}

// am or pm (a.m., p.m.) behind an hour from 1 to 12.
static bool half_of_day(Rest *rest, int *hour) {
    Rest ahead = *rest;
    skip_spaces(&ahead);
    const bool pm = ahead.at < ahead.end && g_ascii_tolower(*ahead.at) == 'p';
    if (!take(&ahead, pm ? 'p' : 'a'))
        return true;
    const bool dotted = take(&ahead, '.');
    if (!take(&ahead, 'm') || (dotted && !take(&ahead, '.')) || *hour < 1 || *hour > 12)
        return false;
    *hour = *hour % 12 + (pm ? 12 : 0);
    *rest = ahead;
    return true;
}

// Z, +hh, +hhmm or +hh:mm, a space before it allowed, up to the text's end.
static bool offset(Rest *rest, Stamp *s) {
    int h, m = 0;
    if (rest->at == rest->end)
        return true;
    skip_spaces(rest);
    s->has_offset = true;
    if (take(rest, 'z'))
        return true;
    const bool west = rest->at < rest->end && *rest->at == '-';
    if (!take(rest, west ? '-' : '+'))
        return false;
    const int n = digits(rest, &h);
    if (n == 4) {
        m = h % 100;
        h /= 100;
    } else if (n != 2 || (take(rest, ':') && !two_digits(rest, &m))) {
        return false;
    }
    s->offset = (h * 60 + m) * (west ? -1 : 1);
    return h <= 14 && m <= 59;
}

// 14:05, 14.05, 14h05, 1405, 905, with seconds, am or pm and an offset, up to the text's end.
static bool clock_parts(Rest *rest, Stamp *s) {
    int h, m;
    const int n = digits(rest, &h);
    if (n == 3 || n == 4) {
        m = h % 100;
        h /= 100;
    } else if (n < 1 || n > 2 || !(take(rest, ':') || take(rest, '.') || take(rest, 'h')) ||
               !two_digits(rest, &m)) {
        return false;
    }
    if (!skip_seconds(rest) || !half_of_day(rest, &h) || !offset(rest, s) || rest->at < rest->end)
        return false;
    s->has_clock = true;
    s->minute = h * 60 + m;
    return m <= 59 && s->minute <= WHEN_DAY;
}

static bool month_name(Rest *rest, int *month) {
    static const char *const names[] = {"january",   "february", "march",    "april",
                                        "may",       "june",     "july",     "august",
                                        "september", "october",  "november", "december"};
    size_t n = 0;
    while (rest->at + n < rest->end && g_ascii_isalpha(rest->at[n]))
        n++;
    for (int m = 0; m < 12; m++)
        if ((n == 3 || n == strlen(names[m])) && g_ascii_strncasecmp(rest->at, names[m], n) == 0) {
            rest->at += n;
            *month = m + 1;
            return true;
        }
    return false;
}

// The separator of a date's parts, or 0.
static char separator(const Rest *rest) {
    return (char)(rest->at < rest->end && strchr("-/. ", *rest->at) ? *rest->at : 0);
}

// Behind the day of a date with the month's name: -Mar-2031, ' March 31'.
static bool named_date(Rest *rest, char between, int day, Stamp *s) {
    int year;
    if (!month_name(rest, &s->part[1]) || !take(rest, between))
        return false;
    const int n = digits(rest, &year);
    s->form = STAMP_MONTH_NAME;
    s->part[0] = year;
    s->part[2] = day;
    s->short_year = n == 2;
    return n == 2 || n == 4;
}

// The date that comes first in the text, if one does.
static bool date_parts(Rest *rest, Stamp *s) {
    int a, b, c;
    const int first = digits(rest, &a);
    const char between = separator(rest);
    if (first == 8 && !between) {
        s->form = STAMP_YEAR_FIRST;
        s->part[0] = a / 10000, s->part[1] = a / 100 % 100, s->part[2] = a % 100;
        return true;
    }
    if (!between || (first != 1 && first != 2 && first != 4))
        return false;
    rest->at++;
    if (first <= 2 && rest->at < rest->end && g_ascii_isalpha(*rest->at))
        return named_date(rest, between, a, s);
    const int second = digits(rest, &b);
    if (between == ' ' || second < 1 || second > 2 || !take(rest, between))
        return false;
    const int third = digits(rest, &c);
    s->form = first == 4 ? STAMP_YEAR_FIRST : STAMP_NUMBERS;
    s->short_year = first <= 2 && third <= 2;
    s->part[0] = a, s->part[1] = b, s->part[2] = c;
    return first == 4 ? third == 1 || third == 2 : third == 4 || third == 2;
}

// A decimal number and nothing else. Its sign may be a comma as well: of a serial or a part of a
// day it can't part thousands.
static bool number(const char *text, size_t length, double *value) {
    char copy[32], *end;
    if (length == 0 || length >= sizeof copy || !g_ascii_isdigit(*text))
        return false;
    bool sign = false;
    for (size_t i = 0; i < length; i++) {
        const bool digit = g_ascii_isdigit(text[i]);
        if (!digit && (sign || (text[i] != '.' && text[i] != ',')))
            return false;
        copy[i] = (char)(digit ? text[i] : '.');
        sign = sign || !digit;
    }
    copy[length] = 0;
    *value = g_ascii_strtod(copy, &end);
    return *end == 0;
}

static bool serial(const char *text, size_t length, Stamp *s) {
    if (!number(text, length, &s->serial) || s->serial < 10000 || s->serial >= 100000)
        return false;
    s->form = STAMP_SERIAL;
    s->has_clock = true;
    return true;
}

static void trim(const char **text, size_t *length) {
    while (*length > 0 && g_ascii_isspace(**text))
        (*text)++, (*length)--;
    while (*length > 0 && g_ascii_isspace((*text)[*length - 1]))
        (*length)--;
}

bool stamp_read(const char *text, size_t length, Stamp *stamp) {
    trim(&text, &length);
    *stamp = (Stamp){0};
    if (serial(text, length, stamp))
        return true;
    *stamp = (Stamp){0};
    Rest rest = {text, text + length};
    if (!date_parts(&rest, stamp)) {
        *stamp = (Stamp){0};
        rest.at = text;
        return clock_parts(&rest, stamp);
    }
    if (rest.at == rest.end)
        return true;
    const bool comma = take(&rest, ',');
    if (!(!comma && take(&rest, 't')) && !take(&rest, ' '))
        return false;
    skip_spaces(&rest);
    return clock_parts(&rest, stamp);
}

static bool in_range(int32_t day) {
    return day >= 0 && day < when_day(2101, 1, 1);
}

// Days from 1970-01-01 to a serial's day 0. In the 1900 system day 1 is 1900-01-01, but a leap day
// that 1900 did not have is counted, so from 1900-03-01 on day 0 is 1899-12-30; in the 1904 system
// day 0 is 1904-01-01.
static double serial_days(const Stamp *stamp, const StampStyle *style) {
    return stamp->serial +
           (style->serial_base == 1904 ? when_day(1904, 1, 1) : when_day(1899, 12, 30));
}

bool stamp_allows(const Stamp *s, DateOrder order) {
    static const int month_at[] = {
        [DATE_ORDER_YMD] = 1, [DATE_ORDER_DMY] = 1, [DATE_ORDER_MDY] = 0};
    static const int day_at[] = {[DATE_ORDER_YMD] = 2, [DATE_ORDER_DMY] = 0, [DATE_ORDER_MDY] = 1};
    if (order == DATE_ORDER_UNSET)
        return stamp_allows(s, DATE_ORDER_YMD) || stamp_allows(s, DATE_ORDER_DMY) ||
               stamp_allows(s, DATE_ORDER_MDY);
    if (order == DATE_ORDER_YMD && !s->short_year)
        return false; // its four-digit year comes last
    return when_valid_date(2000, s->part[month_at[order]], s->part[day_at[order]]);
}

static StampFit year_month_day(const Stamp *stamp, const StampStyle *style, int ymd[3]) {
    memcpy(ymd, stamp->part, sizeof stamp->part);
    if (stamp->form == STAMP_NUMBERS) {
        if (!stamp_allows(stamp, style->order))
            return STAMP_IMPOSSIBLE;
        if (style->order == DATE_ORDER_UNSET)
            return STAMP_NO_ORDER;
        static const int place[][3] = {[DATE_ORDER_YMD] = {0, 1, 2},
                                       [DATE_ORDER_DMY] = {2, 1, 0},
                                       [DATE_ORDER_MDY] = {2, 0, 1}};
        for (int i = 0; i < 3; i++)
            ymd[i] = stamp->part[place[style->order][i]];
    }
    if (stamp->short_year) {
        if (style->century_pivot < 0)
            return STAMP_NO_PIVOT;
        ymd[0] += ymd[0] < style->century_pivot ? 2000 : 1900;
    }
    return STAMP_FINE;
}

StampFit stamp_day(const Stamp *stamp, const StampStyle *style, int32_t *day) {
    int ymd[3];
    if (stamp->form == STAMP_NO_DATE)
        return STAMP_WITHOUT_DATE;
    if (stamp->form == STAMP_SERIAL) {
        *day = (int32_t)floor(serial_days(stamp, style));
    } else {
        const StampFit fit = year_month_day(stamp, style, ymd);
        if (fit != STAMP_FINE)
            return fit;
        if (!when_valid_date(ymd[0], ymd[1], ymd[2]))
            return STAMP_IMPOSSIBLE;
        *day = when_day(ymd[0], ymd[1], ymd[2]);
    }
    return in_range(*day) ? STAMP_FINE : STAMP_IMPOSSIBLE;
}

StampFit stamp_minute(const Stamp *stamp, const StampStyle *style, int32_t *minute) {
    int32_t day = 0;
    const StampFit fit = stamp_day(stamp, style, &day);
    if (fit != STAMP_FINE || !stamp->has_clock)
        return fit != STAMP_FINE ? fit : STAMP_IMPOSSIBLE;
    if (stamp->form == STAMP_SERIAL)
        *minute = (int32_t)floor(serial_days(stamp, style) * WHEN_DAY + 0.5);
    else
        *minute = day * WHEN_DAY + stamp->minute - stamp->offset;
    return STAMP_FINE;
}

// Whether a number such as 0.25 may be minutes as well as part of a day.
static bool either_way(const char *text, size_t length) {
    return length == 4 && text[2] < '6';
}

bool stamp_clock(const char *text, size_t length, bool serials, int *minute) {
    trim(&text, &length);
    double part;
    if (number(text, length, &part) && length > 1 && (text[1] == '.' || text[1] == ',') &&
        part < 1 && (serials || !either_way(text, length))) {
        *minute = (int)floor(part * WHEN_DAY + 0.5);
        return true;
    }
    Stamp s;
    if (length > 1 && text[0] == '0' && (text[1] == '.' || text[1] == ','))
        return false;
    if (!stamp_read(text, length, &s) || !s.has_clock || s.has_offset)
        return false;
    if (s.form == STAMP_SERIAL) {
        *minute = (int)floor((s.serial - floor(s.serial)) * WHEN_DAY + 0.5);
        return s.serial > floor(s.serial);
    }
    const int year = s.form == STAMP_NUMBERS ? s.part[2] : s.part[0];
    *minute = s.minute;
    return s.form == STAMP_NO_DATE || (!s.short_year && year >= 1899 && year <= 1904);
}
