// SPDX-License-Identifier: GPL-3.0-or-later
// Cut between characters, never within one.
#include "base/clip.h"

#include <glib.h>

char *clip_text(const char *text, unsigned most) {
    if (g_utf8_strlen(text, -1) <= (glong)most)
        return g_strdup(text);
    char *head = g_utf8_substring(text, 0, (glong)most), *cut = g_strconcat(head, "…", NULL);
    g_free(head);
    return cut;
}
