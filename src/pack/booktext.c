// SPDX-License-Identifier: GPL-3.0-or-later
// What a cell can't hold is replaced.
#include "pack/booktext.h"

#include <stdbool.h>
#include <string.h>

#define LONGEST 32767 // characters in a cell

// Printable ASCII that fits a cell: most texts are.
static bool is_plain(const char *text) {
    const char *p = text;
    while (*p >= ' ' && *p <= '~')
        p++;
    return *p == 0 && p - text <= LONGEST;
}

// U+FFFE and U+FFFF, which are no characters.
static bool is_none(const char *p) {
    return memcmp(p, "\xEF\xBF", 2) == 0 && ((unsigned char)p[2] & 0xFE) == 0xBE;
}

const char *booktext_good(const char *text, char **made) {
    *made = NULL;
    if (is_plain(text))
        return text;
    char *valid = g_utf8_make_valid(text, -1);
    if (g_utf8_strlen(valid, -1) > LONGEST)
        *g_utf8_offset_to_pointer(valid, LONGEST) = 0;
    for (char *p = valid; *p; p = g_utf8_next_char(p)) {
        if ((unsigned char)*p < ' ' && *p != '\n' && *p != '\t')
            *p = ' ';
        else if (is_none(p))
            p[2] = '\xBD'; // the sign for what can't be shown
    }
    return *made = valid;
}
