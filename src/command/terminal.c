// SPDX-License-Identifier: GPL-3.0-or-later
// Words to a person, without what a terminal would obey.
#include "command/terminal.h"

#include "base/visible.h"

#include <stdio.h>

static char *harmless(const char *text) {
    char *valid = g_utf8_make_valid(text, -1);
    GString *out = g_string_new(NULL);
    for (const char *p = valid; *p; p = g_utf8_next_char(p)) {
        const gunichar c = g_utf8_get_char(p);
        g_string_append_unichar(out,
                                (g_unichar_iscntrl(c) && c != '\n') || visible_turns(c) ? '?' : c);
    }
    g_free(valid);
    return g_string_free(out, FALSE);
}

static void say(const char *text) {
    const char *charset;
    char *plain = harmless(text), *local = NULL;
    if (!g_get_charset(&charset))
        local = g_convert_with_fallback(plain, -1, charset, "UTF-8", "?", NULL, NULL, NULL);
    fputs(local ? local : plain, stderr);
    fflush(stderr);
    g_free(local);
    g_free(plain);
}

void terminal_begin(void) {
    g_set_printerr_handler(say);
}
