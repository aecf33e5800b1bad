// SPDX-License-Identifier: GPL-3.0-or-later
// Escaping for HTML and XML.
#include "pack/html.h"

#include "base/visible.h"

#include <stdbool.h>
#include <string.h>

// One that stands for itself in a byte.
static bool is_plain(char c) {
    return (c >= 32 && c < 127 && !strchr("&<>\"'", c)) || c == '\n' || c == '\t';
}

static void escape_one(GString *out, gunichar c) {
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
    else if (c < 32 || (c >= 0x7F && c < 0xA0) || c == 0xFFFE || c == 0xFFFF || visible_turns(c))
        g_string_append(out, "\xEF\xBF\xBD");
    else
        g_string_append_unichar(out, c);
}

void html_escape(GString *out, const char *text) {
    char *valid = g_utf8_make_valid(text, -1);
    for (const char *p = valid; *p;) {
        const char *plain = p;
        while (is_plain(*p))
            p++;
        g_string_append_len(out, plain, p - plain);
        if (*p) {
            escape_one(out, g_utf8_get_char(p));
            p = g_utf8_next_char(p);
        }
    }
    g_free(valid);
}

void html_prose(GString *out, const char *text) {
    char **parts = g_strsplit(text, " %", -1), *kept = g_strjoinv("\u00a0%", parts);
    html_escape(out, kept);
    g_strfreev(parts);
    g_free(kept);
}

void html_element(GString *out, const char *tag, const char *attributes, const char *text) {
    g_string_append_printf(out, "<%s%s%s>", tag, *attributes ? " " : "", attributes);
    html_escape(out, text);
    g_string_append_printf(out, "</%s>\n", tag);
}

void html_source(GString *out, const char *svg, gsize length) {
    gint state = 0, save = 0;
    g_string_append(out, "src=\"data:image/svg+xml;base64,");
    gsize at = out->len;
    g_string_set_size(out, at + (length / 3 + 1) * 4 + 4);
    at += g_base64_encode_step((const guchar *)svg, length, FALSE, out->str + at, &state, &save);
    at += g_base64_encode_close(FALSE, out->str + at, &state, &save);
    g_string_truncate(out, at);
    g_string_append_c(out, '"');
}
