// SPDX-License-Identifier: GPL-3.0-or-later
// Transfers written by hand, for the tests of the cohort.
#ifndef CROSSWARD_TESTS_UNIT_COHORT_H
#define CROSSWARD_TESTS_UNIT_COHORT_H

#include "cohort/cohort.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    const char *id, *keeper, *from, *to; // NULL = unknown
    const char *requested, *departed, *arrived, *date;
    const char *band, *condition;
    const char *events; // as logs write them: none, or category:harm;...
    uint16_t file;
} Hand;

static inline int32_t hand_time(const char *text) {
    int32_t day, minute = WHEN_UNKNOWN;
    bool offset;
    ck_assert(!text || (when_read_date(text, 10, &day) &&
                        when_read_clock(day, text + 10, strlen(text) - 10, &minute, &offset)));
    return minute;
}

static inline uint32_t hand_events(Transfers *t, const char *text) {
    Event list[8];
    size_t n = 0;
    if (!text)
        return 0;
    char **parts = g_strsplit(strcmp(text, "none") ? text : "", ";", -1);
    for (char **part = parts; *part; part++) {
        char **words = g_strsplit(*part, ":", 2);
        list[n].category = field_code(field_table[FIELD_events].codes, words[0], strlen(words[0]));
        list[n].harm = words[1] ? field_code(&field_harm, words[1], strlen(words[1])) : 0;
        ck_assert(list[n++].category != 0);
        g_strfreev(words);
    }
    g_strfreev(parts);
    return transfers_events(t, list, n);
}

static inline int64_t hand_code(FieldId f, const char *text) {
    return text ? field_code(field_table[f].codes, text, strlen(text)) : 0;
}

static inline int64_t hand_unit(Transfers *t, const char *text) {
    return text ? transfers_unit(t, text, strlen(text)) : 0;
}

// Adds a record on the given line.
static inline void hand_add(Transfers *t, const Hand *h, uint32_t line) {
    Draft d;
    transfers_clear_draft(&d);
    d.id[0] = h->id ? g_str_hash(h->id) : 0;
    d.value[FIELD_recorded_by] = hand_unit(t, h->keeper);
    d.value[FIELD_sending_unit] = hand_unit(t, h->from);
    d.value[FIELD_receiving_unit] = hand_unit(t, h->to);
    d.value[FIELD_requested_at] = hand_time(h->requested);
    d.value[FIELD_departed_at] = hand_time(h->departed);
    d.value[FIELD_arrived_at] = hand_time(h->arrived);
    int32_t day = WHEN_UNKNOWN;
    ck_assert(!h->date || when_read_date(h->date, strlen(h->date), &day));
    d.value[FIELD_transfer_date] = day;
    d.value[FIELD_age_band] = hand_code(FIELD_age_band, h->band);
    d.value[FIELD_condition] = hand_code(FIELD_condition, h->condition);
    d.value[FIELD_events] = hand_events(t, h->events);
    d.file = h->file;
    d.line = line;
    ck_assert(transfers_add(t, &d));
}

// Records on lines 2, 3, ...; free with transfers_free.
static inline Transfers *hand_transfers(const Hand *rows, size_t n) {
    Transfers *t = transfers_new();
    for (size_t i = 0; i < n; i++)
        hand_add(t, &rows[i], (uint32_t)i + 2);
    ck_assert(transfers_seal(t));
    return t;
}

#endif
