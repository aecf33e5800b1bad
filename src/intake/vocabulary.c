// SPDX-License-Identifier: GPL-3.0-or-later
// Comparing texts word by word.
#include "intake/vocabulary.h"

#include <glib.h>
#include <string.h>

typedef struct {
    FieldId field;
    const char *words;
} Head;

typedef struct {
    const char *list;
    uint8_t code;
    const char *words;
} Value;

static const Head heads[] = {
#define HEAD(field, words) {FIELD_##field, words},
#include "intake/vocabulary.def"
};

static const Value values[] = {
#define VALUE(list, name, words) {#list, CODE_##list##_##name, words},
#include "intake/vocabulary.def"
};

// Words that say nothing about which field a column is.
static const char filler[] = " time date of the at code name type yn hh mm dd yyyy hhmm local "
                             "please was is were a y n no yes "
                             "used available working during transit transfer patient pt ";

char *vocabulary_plain(const char *text, size_t length) {
    GString *out = g_string_new(" ");
    for (size_t i = 0; i < length; i++) {
        const char c = text[i];
        // dateOfBirth is three words, SpR is one
        const bool upper_after_lower = i > 0 && g_ascii_isupper(c) &&
                                       g_ascii_islower(text[i - 1]) && i + 1 < length &&
                                       g_ascii_islower(text[i + 1]);
        if (g_ascii_isalnum(c) || (unsigned char)c >= 0x80) {
            if (upper_after_lower)
                g_string_append_c(out, ' ');
            g_string_append_c(out, g_ascii_tolower(c));
        } else if (c != '\'' && out->str[out->len - 1] != ' ') {
            g_string_append_c(out, ' ');
        }
    }
    if (out->str[out->len - 1] != ' ')
        g_string_append_c(out, ' ');
    return g_string_free(out, FALSE);
}

static unsigned word_count(const char *text, size_t length) {
    unsigned n = length > 0;
    for (size_t i = 0; i < length; i++)
        n += text[i] == ' ';
    return n;
}

// Whether a plain text has these words (n bytes, without blanks at their ends) among its own.
static bool holds(const char *plain, const char *words, size_t n) {
    for (const char *blank = plain; blank && blank[1]; blank = strchr(blank + 1, ' '))
        if (blank[1] == *words && !strncmp(blank + 1, words, n) && blank[1 + n] == ' ')
            return true;
    return false;
}

// Whether a plain text is these words and nothing else.
static bool is_just(const char *plain, const char *words, size_t n) {
    return plain[1] == *words && !strncmp(plain + 1, words, n) && plain[1 + n] == ' ' &&
           !plain[2 + n];
}

// The words of plain that are no fillers. Free with g_free.
static char *without_filler(const char *plain) {
    GString *out = g_string_new(" ");
    for (const char *word = plain + 1; *word;) {
        const size_t n = strcspn(word, " ");
        if (n > 0 && !holds(filler, word, n)) {
            g_string_append_len(out, word, (gssize)n);
            g_string_append_c(out, ' ');
        }
        word += n + 1;
    }
    return g_string_free(out, FALSE);
}

// How well one alternative (n bytes, without blanks at its ends) fits a plain text.
static double fit_of(const char *plain, const char *bare, const char *alternative, size_t n) {
    if (is_just(plain, alternative, n))
        return 1;
    if (is_just(bare, alternative, n))
        return 0.95;
    if (n >= 4 && holds(plain, alternative, n)) {
        const unsigned words = word_count(plain + 1, strlen(plain) - 2);
        return 0.6 + 0.3 * word_count(alternative, n) / words;
    }
    return 0;
}

static double best_of(const char *plain, const char *bare, const char *alternatives) {
    double best = 0;
    for (const char *word = alternatives; word;) {
        const char *end = strchr(word, '|');
        const size_t n = end ? (size_t)(end - word) : strlen(word);
        best = MAX(best, fit_of(plain, bare, word, n));
        word = end ? end + 1 : NULL;
    }
    return best;
}

// Whether a heading names a measure that its field does not have.
static bool other_measure(const char *plain, FieldId field) {
    return field == FIELD_distance_km && (strstr(plain, " miles ") || strstr(plain, " mi "));
}

// Length of a heading without what it explains in brackets at its end: "Urgency (1-3)".
static size_t without_brackets(const char *heading) {
    const char *open = strrchr(heading, '(');
    const size_t length = strlen(heading);
    return open && open > heading && heading[length - 1] == ')' ? (size_t)(open - heading) : length;
}

void vocabulary_headings(const char *heading, double fit[FIELD_STORED]) {
    char *plain = vocabulary_plain(heading, strlen(heading)),
         *before = vocabulary_plain(heading, without_brackets(heading)),
         *bare = without_filler(before);
    for (int f = 0; f < FIELD_STORED; f++) {
        const char *name = field_table[f].name;
        char *own = vocabulary_plain(name, strlen(name));
        fit[f] = strcmp(plain, own) == 0 ? 1 : 0;
        g_free(own);
    }
    for (size_t h = 0; h < G_N_ELEMENTS(heads); h++)
        if (!other_measure(plain, heads[h].field))
            fit[heads[h].field] = MAX(fit[heads[h].field], best_of(plain, bare, heads[h].words));
    g_free(bare);
    g_free(before);
    g_free(plain);
}

bool vocabulary_knows(const char *heading) {
    double fit[FIELD_STORED];
    bool known = false;
    vocabulary_headings(heading, fit);
    for (int f = 0; f < FIELD_STORED; f++)
        known = known || fit[f] >= 0.95;
    return known;
}

uint8_t vocabulary_value(const CodeList *list, const char *cell, double *fit) {
    uint8_t best = field_code(list, cell, strlen(cell));
    *fit = best ? 1 : 0;
    if (best)
        return best;
    char *plain = vocabulary_plain(cell, strlen(cell)), *bare = without_filler(plain);
    for (unsigned code = 1; code <= list->n; code++) { // "Time critical" holds a code's own words
        char *own =
            vocabulary_plain(list->codes[code - 1].code, strlen(list->codes[code - 1].code));
        double own_fit = fit_of(plain, bare, own + 1, strlen(own) - 2);
        for (size_t v = 0; v < G_N_ELEMENTS(values); v++)
            if (values[v].code == code && !strcmp(values[v].list, list->name))
                own_fit = MAX(own_fit, best_of(plain, bare, values[v].words));
        g_free(own);
        if (own_fit > *fit)
            best = (uint8_t)code, *fit = own_fit;
        else if (own_fit == *fit && own_fit > 0)
            best = 0; // as well another one
    }
    g_free(plain);
    g_free(bare);
    if (best == 0)
        *fit = 0;
    else if (*fit < 0.95)
        *fit = 0.7;
    return best;
}

void vocabulary_add_words(GHashTable *set, const char *text) {
    char *plain = vocabulary_plain(text, strlen(text));
    char **words = g_strsplit(plain, " ", -1);
    for (char **w = words; *w; w++)
        if (**w)
            g_hash_table_add(set, g_strdup(*w));
    g_strfreev(words);
    g_free(plain);
}

GHashTable *vocabulary_words(void) {
    GHashTable *set = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    vocabulary_add_words(set, filler);
    for (size_t h = 0; h < G_N_ELEMENTS(heads); h++)
        vocabulary_add_words(set, heads[h].words);
    for (size_t v = 0; v < G_N_ELEMENTS(values); v++)
        vocabulary_add_words(set, values[v].words);
    for (int f = 0; f < FIELD_STORED; f++)
        for (unsigned code = 0; field_table[f].codes && code < field_table[f].codes->n; code++)
            vocabulary_add_words(set, field_table[f].codes->codes[code].code);
    return set;
}

char *vocabulary_codes(const CodeList *list) {
    GString *out = g_string_new(NULL);
    for (unsigned v = 1; v <= list->n; v++)
        g_string_append_printf(out, "%s%s", v > 1 ? ", " : "", field_code_text(list, v));
    return g_string_free(out, FALSE);
}
