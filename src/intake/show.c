// SPDX-License-Identifier: GPL-3.0-or-later
// What findings show of a cell: its text helps to mend it, and must not say who a patient is.
#include "intake/show.h"

#include "intake/guard.h"
#include "intake/names.h"
#include "intake/vocabulary.h"

#include <string.h>

enum {
    OLDEST = 120, // years; a greater number stands for something else (999: not known)
    RECENT = 1990 // a time in an earlier year may be somebody's birth
};

bool show_old_age(const char *text, size_t length) {
    unsigned age = 0;
    size_t at = 0;
    for (; at < length && g_ascii_isdigit(text[at]) && age <= OLDEST; at++)
        age = age * 10 + (unsigned)g_ascii_digit_value(text[at]);
    return age >= 90 && age <= OLDEST && !(at < length && text[at] == '+');
}

// Whether every word is one that logs use for our fields and codes.
static bool all_known(const char *text, size_t length, GHashTable *words) {
    char *plain = vocabulary_plain(text, length);
    char **list = g_strsplit(plain, " ", -1);
    bool known = true;
    for (char **word = list; known && *word; word++)
        known = !**word || g_hash_table_contains(words, *word);
    g_strfreev(list);
    g_free(plain);
    return known;
}

bool show_value(const char *text, size_t length, GHashTable *words) {
    const GuardSight sight = guard_look(text, length);
    return guard_may_show(text, length) && sight.year == 0 && sight.short_year == 0 &&
           !(sight.name && !all_known(text, length, words));
}

// Ten to twelve digits in a row of which the first is 0, as telephone numbers are written.
static bool long_number(const char *text, size_t length) {
    size_t run = 0;
    for (size_t i = 0; i <= length; i++) {
        if (i < length && g_ascii_isdigit(text[i])) {
            run++;
            continue;
        }
        if (run >= 10 && run <= 12 && text[i - run] == '0')
            return true;
        run = 0;
    }
    return false;
}

static bool has_letter(const char *text, size_t length) {
    for (size_t i = 0; i < length; i++)
        if (g_ascii_isalpha(text[i]))
            return true;
    return false;
}

bool show_copied(const char *text, size_t length, GHashTable *words) {
    const GuardSight sight = guard_look(text, length);
    return guard_may_show(text, length) && !(sight.year > 0 && sight.year < RECENT) &&
           !(sight.short_year > 0 && has_letter(text, length)) && !sight.postcode &&
           !long_number(text, length) && guard_heading(text, length) == GUARD_NONE &&
           !names_found(text, length, words);
}

bool show_found(FieldId field, const char *text, size_t length, GHashTable *words) {
    const FieldKind kind = field < FIELD_STORED ? field_table[field].kind : KIND_CODE;
    if (kind == KIND_TIME || kind == KIND_DATE) {
        const GuardSight sight = guard_look(text, length);
        return guard_may_show(text, length) && (sight.year == 0 || sight.year >= RECENT) &&
               !sight.whole;
    }
    return (kind == KIND_CODE || kind == KIND_NUMBER) && show_value(text, length, words) &&
           !(field == FIELD_age_band && show_old_age(text, length));
}
