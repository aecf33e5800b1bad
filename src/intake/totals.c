// SPDX-License-Identifier: GPL-3.0-or-later
// Words that rows of totals begin with.
#include "intake/totals.h"

#include <glib.h>
#include <string.h>

bool totals_begin(const char *text, size_t length) {
    static const char *const words[] = {"total", "subtotal", "sub-total", "grand total", "sum"};
    for (size_t w = 0; w < G_N_ELEMENTS(words); w++) {
        if (length == 0 || g_ascii_tolower(*text) != *words[w])
            continue;
        const size_t n = strlen(words[w]);
        if (length >= n && g_ascii_strncasecmp(text, words[w], n) == 0 &&
            (length == n || !g_ascii_isalnum(text[n]) ||
             (length == n + 1 && g_ascii_tolower(text[n]) == 's')))
            return true;
    }
    return false;
}
