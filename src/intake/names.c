// SPDX-License-Identifier: GPL-3.0-or-later
// Words of a text in turn; each is held against the one before.
#include "intake/names.h"

#include "intake/vocabulary.h"

#include <string.h>

typedef struct {
    size_t length;   // 0 = there is none
    bool capital;    // begins with one, or with a letter beyond ASCII
    bool known;      // every part of it
    bool cue;        // a person's name may follow
    const char *end; // behind it
} Word;

static bool is_letter(char c) {
    return g_ascii_isalpha(c) || (unsigned char)c >= 0x80;
}

static bool is_cue(const char *text, size_t length) {
    static const char *const cues[] = {
        "by",     "name",   "named",    "called", "patient", "patients", "pt",      "mother",
        "father", "wife",   "husband",  "son",    "mum",     "dad",      "brother", "nurse",
        "sister", "doctor", "daughter", "signed", "contact", "baby",     "kin",     "consultant"};
    for (size_t i = 0; i < G_N_ELEMENTS(cues); i++)
        if (strlen(cues[i]) == length && !g_ascii_strncasecmp(text, cues[i], length))
            return true;
    return false;
}

static bool all_known(const char *text, size_t length, GHashTable *known) {
    char *plain = vocabulary_plain(text, length);
    char **parts = g_strsplit(plain, " ", -1);
    bool all = true;
    for (char **part = parts; all && *part; part++)
        all = !**part || g_hash_table_contains(known, *part);
    g_strfreev(parts);
    g_free(plain);
    return all;
}

// The word that starts at text: letters, hyphens and apostrophes between.
static Word word_at(const char *text, const char *end, GHashTable *known) {
    const char *at = text;
    while (at < end &&
           (is_letter(*at) || (at > text && strchr("'-", *at) && at + 1 < end && is_letter(at[1]))))
        at++;
    const size_t length = (size_t)(at - text);
    return (Word){length, g_ascii_isupper(*text) || (unsigned char)*text >= 0x80,
                  all_known(text, length, known), is_cue(text, length), at};
}

// Whether only blanks and what stands between parts of a name lie there.
static bool beside(const char *from, const char *to) {
    for (; from < to; from++)
        if (!strchr(" .,:", *from))
            return false;
    return true;
}

static bool may_be_name(const Word *w) {
    return w->capital && w->length > 1 && !w->known;
}

bool names_found(const char *text, size_t length, GHashTable *known) {
    const char *const end = text + length;
    Word last = {0};
    for (const char *at = text; at < end;) {
        if (!is_letter(*at) || (at > text && g_ascii_isdigit(at[-1]))) {
            at++;
            continue;
        }
        Word word = word_at(at, end, known);
        if (word.end < end && g_ascii_isdigit(*word.end)) {
            word.length = 0; // part of a code
        } else if (last.length > 0 && beside(last.end, at)) {
            if (may_be_name(&word) && (last.capital || last.cue))
                return true;
            if (may_be_name(&last) && word.capital)
                return true;
        }
        last = word;
        at = word.end;
    }
    return false;
}
