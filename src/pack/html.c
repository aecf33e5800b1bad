// SPDX-License-Identifier: GPL-3.0-or-later
// Escaping for HTML and XML.
#include "pack/html.h"

void html_escape(GString *out, const char *text) {
    char *valid = g_utf8_make_valid(text, -1);
    for (const char *p = valid; *p; p = g_utf8_next_char(p)) {
        const gunichar c = g_utf8_get_char(p);
        if (c == '&')
            g_string_append(out, "&amp;");
        else if (c == '<')
            g_string_append(out, "&lt;");
        else if (c == '>')
            g_string_append(out, "&gt;");
        else if (c == '"')
            g_string_append(out, "&quot;");
        else if (c == '\'')
            g_string_append(out, "&#39;");
        else if ((c < 32 && c != '\n' && c != '\t') || (c >= 0x7F && c < 0xA0) || c == 0xFFFE ||
                 c == 0xFFFF)
            g_string_append(out, "\xEF\xBF\xBD");
        else
            g_string_append_unichar(out, c);
    }
    g_free(valid);
}

void html_element(GString *out, const char *tag, const char *attributes, const char *text) {
    g_string_append_printf(out, "<%s%s%s>", tag, *attributes ? " " : "", attributes);
    html_escape(out, text);
    g_string_append_printf(out, "</%s>\n", tag);
}
