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

static CellFault read_id(CellRecord *r, FieldId f, const char *text, size_t length) {
    if (length > 64)
        return (CellFault){"id-too-long", "a pseudonym has at most 64 bytes; taken as unknown"};
    r->draft.id[f == FIELD_episode_id] = hash_text(text, length);
    return fine;
}

static CellFault read_unit(CellRecord *r, Transfers *pool, FieldId f, const char *text,
                           size_t length) {
    if (length == 3 && g_ascii_strncasecmp(text, "all", 3) == 0)
        return (CellFault){"unit-all",
                           "'all' is no unit code, it means the network; taken as unknown"};
    r->draft.value[f] = transfers_unit(pool, text, length);
    if (r->draft.value[f] == 0)
        return (CellFault){"unit-too-long", "a unit code has at most 255 bytes; taken as unknown"};
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
        return (CellFault){"code-unknown", "not one of this field's codes; taken as unknown"};
    r->draft.value[f] = value;
    return fine;
}

// A spreadsheet's serial day number, 1900 base: days since 1899-12-30.
static bool read_serial(const char *text, size_t length, double *serial) {
    char copy[32];
    char *end;
    if (length < 5 || length >= sizeof copy || !g_ascii_isdigit(*text))
        return false;
    memcpy(copy, text, length);
    copy[length] = 0;
    *serial = g_ascii_strtod(copy, &end);
    return *end == 0 && *serial >= 25569 && *serial < 73415;
}

static CellFault read_date(CellRecord *r, FieldId f, const char *text, size_t length,
                           const CellStyle *style) {
    int32_t day;
    double serial;
    if (!when_read_date(text, length, &day)) {
        if (!read_serial(text, length, &serial) || serial != floor(serial))
            return (CellFault){"date-impossible", "no date as 2031-03-09; taken as unknown"};
        day = (int32_t)serial - 25569;
    }
    if (style->received != WHEN_UNKNOWN && day > style->received)
        return (CellFault){"after-received",
                           "later than the day the log was received; taken as unknown"};
    r->draft.value[f] = day;
    return fine;
}

static CellFault read_time(CellRecord *r, FieldId f, uint32_t column, const char *text,
                           size_t length, const CellStyle *style) {
    int32_t minute, utc = 0, second = 0;
    bool has_offset = false;
    double serial;
    if (!when_read_time(text, length, &minute, &has_offset)) {
        if (!read_serial(text, length, &serial))
            return (CellFault){"time-impossible", "no time as 2031-03-09T14:05; taken as unknown"};
        minute = (int32_t)floor((serial - 25569) * WHEN_DAY + 0.5);
    }
    const WhenFit fit = has_offset ? WHEN_OK : when_to_utc(style->zone, minute, &utc, &second);
    if (has_offset)
        utc = minute;
    if (fit == WHEN_SKIPPED)
        return (CellFault){
            "time-skipped",
            "this local time does not exist, the clocks went forward; taken as unknown"};
    if (style->received != WHEN_UNKNOWN &&
        when_day_of(when_to_local(style->zone, utc)) > style->received)
        return (CellFault){"after-received",
                           "later than the day the log was received; taken as unknown"};
    if (fit == WHEN_TWICE)
        r->twice[r->n_twice++] = (CellTwice){f, column, utc, second};
    r->draft.value[f] = utc;
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
            return (CellFault){"events-unknown",
                               "not none, nor category:harm joined by ;; taken as unknown"};
        else
            list[n++] = e;
        at += item + 1;
    }
    if (none && n > 0)
        return (CellFault){"events-contradict", "says both none and an event; taken as unknown"};
    r->draft.value[FIELD_events] = transfers_events(pool, list, n);
    return fine;
}

static CellFault read_number(CellRecord *r, const char *text, size_t length, char decimal) {
    char copy[64], *end;
    const CellFault fault = {"number-impossible", "no decimal from 0 to 20000; taken as unknown"};
    if (length >= sizeof copy || !g_ascii_isdigit(*text))
        return fault;
    memcpy(copy, text, length);
    copy[length] = 0;
    char *sign = decimal == '.' ? NULL : strchr(copy, decimal);
    if (decimal != '.' && strchr(copy, '.'))
        return fault;
    if (sign)
        *sign = '.';
    const double value = g_ascii_strtod(copy, &end);
    if (*end != 0 || strpbrk(copy, "xXnN") || !(value >= 0 && value <= 20000))
        return fault;
    r->draft.distance_km = value;
    return fine;
}

void cell_clear(CellRecord *r) {
    transfers_clear_draft(&r->draft);
    r->n_twice = 0;
}

CellFault cell_read(CellRecord *r, Transfers *pool, FieldId f, uint32_t column, const char *text,
                    size_t length, const CellStyle *style) {
    while (length > 0 && g_ascii_isspace(*text))
        text++, length--;
    while (length > 0 && g_ascii_isspace(text[length - 1]))
        length--;
    if (length == 0)
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

// Whether the known stamps stand in the order of the phases.
static bool in_order(const Draft *d) {
    static const FieldId phase[] = {FIELD_requested_at,   FIELD_accepted_at, FIELD_team_ready_at,
                                    FIELD_at_patient_at,  FIELD_departed_at, FIELD_arrived_at,
                                    FIELD_handed_over_at, FIELD_returned_at};
    int64_t last = INT64_MIN;
    for (size_t i = 0; i < G_N_ELEMENTS(phase); i++) {
        const int64_t at = d->value[phase[i]];
        if (at == WHEN_UNKNOWN)
            continue;
        if (at < last)
            return false;
        last = at;
    }
    const int64_t end = d->value[FIELD_ended_at], start = d->value[FIELD_requested_at];
    return end == WHEN_UNKNOWN || start == WHEN_UNKNOWN || end >= start;
}

static void choose(CellRecord *r, unsigned choice) {
    for (unsigned i = 0; i < r->n_twice; i++)
        r->draft.value[r->twice[i].field] =
            choice >> i & 1 ? r->twice[i].second : r->twice[i].first;
}

unsigned cell_settle(CellRecord *r) {
    unsigned found = 0, good = 0;
    for (unsigned c = 0; c < 1u << r->n_twice; c++) {
        choose(r, c);
        if (in_order(&r->draft))
            good = c, found++;
    }
    if (found == 1) {
        choose(r, good);
        return 0;
    }
    for (unsigned i = 0; i < r->n_twice; i++)
        r->draft.value[r->twice[i].field] = WHEN_UNKNOWN;
    return r->n_twice;
}
