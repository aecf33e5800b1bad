// SPDX-License-Identifier: GPL-3.0-or-later
// Reading cells. What a field can't hold becomes unknown with a reason; nothing is guessed.
#include "intake/cell.h"

#include <math.h>
#include <string.h>

static const CellFault fine = {0};

static uint64_t hash_text(const char *text, size_t length) {
    uint64_t h = 14695981039346656037u; // FNV-1a, 64 bits, then mixed
    for (size_t i = 0; i < length; i++)
        h = (h ^ (uint8_t)text[i]) * 1099511628211u;
    h ^= h >> 33;
    h *= 0xff51afd7ed558ccdu;
    h ^= h >> 33;
    return h ? h : 1;
}

// Whether a spreadsheet has written a long number as 4.01E+09, so that digits are lost.
static bool is_exponent(const char *text, size_t length) {
    size_t at = 1;
    if (length < 5 || !g_ascii_isdigit(*text))
        return false;
    if (text[at] == '.' || text[at] == ',')
        for (at++; at < length && g_ascii_isdigit(text[at]);)
            at++;
    if (length - at < 4 || length - at > 5 || (text[at] != 'E' && text[at] != 'e') ||
        (text[at + 1] != '+' && text[at + 1] != '-'))
        return false;
    for (at += 2; at < length && g_ascii_isdigit(text[at]);)
        at++;
    return at == length;
}

static CellFault read_id(CellRecord *r, FieldId f, const char *text, size_t length) {
    if (length > 64)
        return (CellFault){.code = "id-too-long",
                           .message = "a pseudonym has at most 64 bytes; taken as unknown"};
    if (is_exponent(text, length))
        return (CellFault){.code = "id-exponent",
                           .message = "a spreadsheet wrote this pseudonym as a rounded number; "
                                      "taken as unknown, so it joins nothing"};
    r->draft.id[f == FIELD_episode_id] = hash_text(text, length);
    return fine;
}

// Words that say that nothing is known.
static bool says_unknown(const char *text, size_t length) {
    static const char *const words[] = {"-", "--", "?", "unknown", "not known"};
    if (!strchr("-?uUnN", *text))
        return false;
    for (size_t i = 0; i < G_N_ELEMENTS(words); i++)
        if (strlen(words[i]) == length && !g_ascii_strncasecmp(text, words[i], length))
            return true;
    return false;
}

static CellFault read_unit(CellRecord *r, Transfers *pool, FieldId f, const char *text,
                           size_t length) {
    if (length == 3 && g_ascii_strncasecmp(text, "all", 3) == 0)
        return (CellFault){.code = "unit-all",
                           .message =
                               "'all' is no unit code, it means the network; taken as unknown"};
    if (says_unknown(text, length)) // as a group's name would
        return (CellFault){.code = "unit-unknown",
                           .message = "says that the unit is not known; taken as unknown"};
    r->draft.value[f] = transfers_unit(pool, text, length);
    if (r->draft.value[f] == 0)
        return (CellFault){.code = "unit-too-long",
                           .message = "a unit code has at most 255 bytes; taken as unknown"};
    return fine;
}

// Whole numbers of years are banded and not kept.
static uint8_t age_band(const char *text, size_t length) {
    int age = 0;
    if (length == 0 || length > 3)
        return 0;
    for (size_t i = 0; i < length; i++) {
        if (!g_ascii_isdigit(text[i]))
            return 0;
        age = age * 10 + (text[i] - '0');
    }
    static const int first[] = {0, 16, 40, 60, 75, 90, 121};
    for (uint8_t b = 0; b < 6; b++)
        if (age >= first[b] && age < first[b + 1])
            return (uint8_t)(b + 1);
    return 0;
}

static CellFault read_code(CellRecord *r, FieldId f, const char *text, size_t length) {
    uint8_t value = field_code(field_table[f].codes, text, length);
    if (value == 0 && f == FIELD_age_band)
        value = age_band(text, length);
    if (value == 0)
        return (CellFault){.code = "code-unknown",
                           .message = "not one of this field's codes; taken as unknown"};
    r->draft.value[f] = value;
    return fine;
}

static CellFault stamp_fault(StampFit fit, bool day) {
    switch (fit) {
    case STAMP_NO_ORDER:
        return (CellFault){.code = "date-order",
                           .message = "day and month may stand in either order; taken as unknown"};
    case STAMP_NO_PIVOT:
        return (CellFault){.code = "year-short",
                           .message = "a year of two digits without its century; taken as unknown"};
    default:
        break;
    }
    return day ? (CellFault){.code = "date-impossible",
                             .message = "no date as 2031-03-09; taken as unknown"}
               : (CellFault){.code = "time-impossible",
                             .message = "no time as 2031-03-09T14:05; taken as unknown"};
}

static CellFault after_received(void) {
    return (CellFault){.code = "after-received",
                       .message = "later than the day the log was received; taken as unknown"};
}

static bool too_late(const CellStyle *style, int32_t day) {
    return style->received != WHEN_UNKNOWN && day > style->received;
}

// Keeps that a stamp is of a form which is read once the whole log was looked at.
static void see_form(CellRecord *r, const Stamp *s, const CellStyle *style) {
    const bool serial = s->form == STAMP_SERIAL;
    r->serial_seen = r->serial_seen || serial;
    r->undecided = r->undecided || (serial && !style->date_serials) ||
                   (s->form == STAMP_NUMBERS && style->stamp.order == DATE_ORDER_UNSET) ||
                   (s->short_year && style->stamp.century_pivot < 0);
}

static bool names_clock(const Stamp *s) {
    return s->form == STAMP_SERIAL ? s->serial > floor(s->serial) : s->has_clock;
}

// Reads a day; clock says whether one may stand beside it, which is passed over.
static CellFault read_day(CellRecord *r, const char *text, size_t length, bool clock,
                          const CellStyle *style, int32_t *day) {
    Stamp s;
    if (!when_read_date(text, length, day)) {
        if (!stamp_read(text, length, &s) || (names_clock(&s) && !clock))
            return stamp_fault(STAMP_IMPOSSIBLE, true);
        see_form(r, &s, style);
        const StampFit fit = stamp_day(&s, &style->stamp, day);
        if (fit != STAMP_FINE)
            return stamp_fault(fit, true);
    }
    return too_late(style, *day) ? after_received() : fine;
}

static CellFault read_date(CellRecord *r, FieldId f, const char *text, size_t length,
                           const CellStyle *style) {
    int32_t day = 0;
    const CellFault fault = read_day(r, text, length, style->mapped, style, &day);
    if (!fault.code)
        r->draft.value[f] = day;
    return fault;
}

CellFault cell_set_time(CellRecord *r, FieldId f, uint32_t column, int32_t minute, bool is_utc,
                        const CellStyle *style) {
    int32_t utc = minute, second = 0;
    const WhenFit fit = is_utc ? WHEN_OK : when_to_utc(style->zone, minute, &utc, &second);
    if (fit == WHEN_SKIPPED)
        return (CellFault){
            .code = "time-skipped",
            .message = "this local time does not exist, the clocks went forward; taken as unknown"};
    if (style->received != WHEN_UNKNOWN &&
        too_late(style, when_day_of(is_utc ? when_to_local(style->zone, utc) : minute)))
        return after_received();
    if (fit == WHEN_TWICE) {
        unsigned i = 0;
        while (i < r->n_twice && r->twice[i].field != f)
            i++;
        r->twice[i] = (CellTwice){f, column, utc, second};
        r->n_twice = MAX(r->n_twice, i + 1);
    }
    r->draft.value[f] = utc;
    return fine;
}

static CellPart *part_of(CellRecord *r, FieldId f) {
    const uint64_t bit = (uint64_t)1 << f;
    if (!(r->partial & bit))
        r->part[f] = (CellPart){0};
    r->partial |= bit;
    return &r->part[f];
}

static CellFault set_clock(CellRecord *r, FieldId f, uint32_t column, int minute, bool stray) {
    CellPart *part = part_of(r, f);
    if (part->has_clock && part->minute != minute)
        r->clashing |= (uint64_t)1 << f;
    part->has_clock = true;
    part->minute = minute;
    part->stray = stray;
    part->column = column;
    return fine;
}

// Reads an ISO 8601 date and time; the date is looked into only if it is another than the last.
static bool read_iso(CellRecord *r, const char *text, size_t length, int32_t *minute,
                     bool *is_utc) {
    enum { DATE = sizeof r->day_text };
    if (length < DATE)
        return false;
    if (memcmp(r->day_text, text, DATE) != 0) {
        if (!when_read_date(text, DATE, &r->day))
            return false;
        memcpy(r->day_text, text, DATE);
    }
    return when_read_clock(r->day, text + DATE, length - DATE, minute, is_utc);
}

bool cell_read_stamp(CellRecord *r, FieldId f, const char *text, size_t length,
                     const CellStyle *style) {
    enum { LENGTH = sizeof "2031-03-09T14:05" - 1 };
    int32_t minute, utc, second;
    bool is_utc;
    if (length != LENGTH || !read_iso(r, text, length, &minute, &is_utc) ||
        when_day_of(minute) != r->day || too_late(style, r->day) ||
        when_to_utc(style->zone, minute, &utc, &second) != WHEN_OK)
        return false;
    r->draft.value[f] = utc;
    return true;
}

static const CellFault midnight_24 = {"time-24", "24:00 is read as 00:00 of the next day", true};

static CellFault read_time(CellRecord *r, FieldId f, uint32_t column, const char *text,
                           size_t length, const CellStyle *style) {
    int32_t minute;
    bool is_utc = false, ends_day = false;
    if (read_iso(r, text, length, &minute, &is_utc)) {
        ends_day = text[11] == '2' && text[12] == '4';
    } else {
        Stamp s;
        if (!stamp_read(text, length, &s))
            return stamp_fault(STAMP_IMPOSSIBLE, false);
        if (s.form == STAMP_NO_DATE && !s.has_offset)
            return set_clock(r, f, column, s.minute, true);
        if (s.form != STAMP_NO_DATE && !s.has_clock)
            return (CellFault){.code = "time-without-clock",
                               .message = "a date without a clock time; taken as unknown"};
        see_form(r, &s, style);
        const StampFit fit = stamp_minute(&s, &style->stamp, &minute);
        if (fit != STAMP_FINE)
            return stamp_fault(fit, false);
        is_utc = s.has_offset;
        ends_day = s.form != STAMP_SERIAL && s.minute == WHEN_DAY;
    }
    const CellFault fault = cell_set_time(r, f, column, minute, is_utc, style);
    return !fault.code && ends_day ? midnight_24 : fault;
}

static void trim(const char **text, size_t *length) {
    if (*length > 0 && (unsigned char)**text > ' ' && (unsigned char)(*text)[*length - 1] > ' ')
        return; // most
    while (*length > 0 && g_ascii_isspace(**text))
        (*text)++, (*length)--;
    while (*length > 0 && g_ascii_isspace((*text)[*length - 1]))
        (*length)--;
}

CellFault cell_read_part(CellRecord *r, FieldId f, MappingPart kind, bool shared, uint32_t column,
                         const char *text, size_t length, const CellStyle *style) {
    trim(&text, &length);
    if (length == 0 || says_unknown(text, length))
        return fine;
    if (kind == MAPPING_CLOCK) {
        int minute;
        if (!stamp_clock(text, length, style->date_serials, &minute))
            return (CellFault){.code = "clock-impossible",
                               .message = "no clock time as 14:05; taken as unknown"};
        set_clock(r, f, column, minute, false);
        return minute == WHEN_DAY ? midnight_24 : fine;
    }
    int32_t day = 0;
    const CellFault fault = read_day(r, text, length, true, style, &day);
    CellPart *part = part_of(r, f);
    part->lost = part->lost || fault.code;
    if (fault.code)
        return fault;
    if (part->has_day && part->day != day)
        r->clashing |= (uint64_t)1 << f;
    part->has_day = true;
    part->day = day;
    part->shared = shared;
    return fine;
}

CellFault cell_read_harm(CellRecord *r, const char *text, size_t length, const CellStyle *style) {
    trim(&text, &length);
    if (length == 0 || (style->mapped && says_unknown(text, length)))
        return fine;
    const uint8_t harm = field_code(&field_harm, text, length);
    if (harm == 0)
        return (CellFault){.code = "harm-unknown",
                           .message = "no degree of harm; taken as unknown"};
    r->harm = MAX(r->harm, harm);
    return fine;
}

static const Code none_code[] = {{"none", ""}};
static const CodeList only_none = {"none", none_code, 1};

static CellFault read_events(CellRecord *r, Transfers *pool, const char *text, size_t length,
                             char separator) {
    Event list[64];
    size_t n = 0, at = 0;
    bool none = false;
    while (at <= length) {
        const char *stop = memchr(text + at, separator, length - at);
        const size_t item = stop ? (size_t)(stop - text) - at : length - at;
        const char *colon = memchr(text + at, ':', item);
        const size_t word = colon ? (size_t)(colon - text) - at : item;
        Event e = {field_code(field_table[FIELD_events].codes, text + at, word), 0};
        if (colon)
            e.harm = field_code(&field_harm, colon + 1, item - word - 1);
        const bool says_none = !colon && field_code(&only_none, text + at, item) == 1;
        if (says_none)
            none = true;
        else if (e.category == 0 || (colon && e.harm == 0) || n == G_N_ELEMENTS(list))
            return (CellFault){.code = "events-unknown",
                               .message =
                                   "neither none nor a list of category:harm; taken as unknown"};
        else
            list[n++] = e;
        at += item + 1;
    }
    if (none && n > 0)
        return (CellFault){.code = "events-contradict",
                           .message = "says both none and an event; taken as unknown"};
    r->draft.value[FIELD_events] = transfers_events(pool, list, n);
    return fine;
}

// A plain decimal as 57.8, of few enough digits that number and power of ten are exact, and so the
// quotient is the nearest double, as strtod's is.
static bool plain_decimal(const char *text, size_t length, char decimal, double *value) {
    double number = 0, power = 1;
    size_t whole = 0;
    while (whole < length && g_ascii_isdigit(text[whole]))
        number = number * 10 + (text[whole++] - '0');
    if (length > 15 || whole == 0 || (whole < length && text[whole] != decimal))
        return false;
    for (size_t i = whole + 1; i < length; i++) {
        if (!g_ascii_isdigit(text[i]))
            return false;
        number = number * 10 + (text[i] - '0');
        power *= 10;
    }
    *value = number / power;
    return true;
}

static CellFault read_number(CellRecord *r, const char *text, size_t length, char decimal) {
    char copy[64], *end;
    const CellFault fault = {.code = "number-impossible",
                             .message = "no decimal from 0 to 20000; taken as unknown"};
    double value;
    if (plain_decimal(text, length, decimal, &value) && value <= 20000) {
        r->draft.distance_km = value;
        return fine;
    }
    if (length >= sizeof copy || !g_ascii_isdigit(*text))
        return fault;
    memcpy(copy, text, length);
    copy[length] = 0;
    char *sign = decimal == '.' ? NULL : strchr(copy, decimal);
    if (decimal != '.' && strchr(copy, '.'))
        return fault;
    if (sign)
        *sign = '.';
    value = g_ascii_strtod(copy, &end);
    if (*end != 0 || strpbrk(copy, "xXnN") || !(value >= 0 && value <= 20000))
        return fault;
    r->draft.distance_km = value;
    return fine;
}

void cell_clear(CellRecord *r) {
    transfers_clear_draft(&r->draft);
    r->n_twice = 0;
    r->partial = r->clashing = 0;
    r->harm = 0;
    r->events_untold = r->undecided = r->dated_before = r->next_day = false;
}

CellFault cell_read(CellRecord *r, Transfers *pool, FieldId f, uint32_t column, const char *text,
                    size_t length, const CellStyle *style) {
    trim(&text, &length);
    if (length == 0 || (style->mapped && says_unknown(text, length)))
        return fine;
    switch (field_table[f].kind) {
    case KIND_ID:
        return read_id(r, f, text, length);
    case KIND_UNIT:
        return read_unit(r, pool, f, text, length);
    case KIND_CODE:
        return read_code(r, f, text, length);
    case KIND_DATE:
        return read_date(r, f, text, length, style);
    case KIND_TIME:
        return read_time(r, f, column, text, length, style);
    case KIND_EVENTS:
        return read_events(r, pool, text, length, style->separator);
    case KIND_NUMBER:
        return read_number(r, text, length, style->decimal);
    }
    return fine;
}
