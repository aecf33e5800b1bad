// SPDX-License-Identifier: GPL-3.0-or-later
// Rewriting gnuplot's SVG, line by line: its output is regular.
#include "pack/svg.h"

#include "pack/html.h"

#include <gio/gio.h>
#include <stdbool.h>
#include <string.h>

#define FONTS "Inter, 'Open Sans', 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"

static bool is_whole(const char *text, gsize length) {
    while (length > 0 && g_ascii_isspace(text[length - 1]))
        length--;
    return length >= 6 && memcmp(text + length - 6, "</svg>", 6) == 0;
}

// Replaces each `from` in a line.
static void append_replaced(GString *out, const char *line, const char *from, const char *to) {
    for (const char *at; (at = strstr(line, from)); line = at + strlen(from)) {
        g_string_append_len(out, line, at - line);
        g_string_append(out, to);
    }
    g_string_append(out, line);
}

static void append_line(GString *out, const char *line) {
    GString *named = g_string_new(NULL);
    append_replaced(named, line, "font-family=\"Inter\"", "font-family=\"" FONTS "\"");
    append_replaced(out, named->str, "font-weight=\"bold\"", "font-weight=\"600\"");
    g_string_append_c(out, '\n');
    g_string_free(named, TRUE);
}

char *svg_finish(const char *text, gsize length, const char *title, const char *description,
                 GError **error) {
    if (!is_whole(text, length)) {
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_NO_SPACE,
                    "gnuplot wrote a chart only in part: is the disk full?");
        return NULL;
    }
    char **lines = g_strsplit(text, "\n", -1);
    GString *out = g_string_sized_new(length);
    for (char **l = lines; *l; l++) {
        const char *line = *l;
        while (*line == ' ' || *line == '\t')
            line++;
        if (g_str_has_prefix(line, "<title>Gnuplot</title>")) {
            g_string_append(out, "<title id=\"t\">");
            html_escape(out, title);
            g_string_append(out, "</title>\n<desc id=\"d\">");
            html_escape(out, description);
            g_string_append(out, "</desc>\n");
        } else if (g_str_has_prefix(line, "xmlns=\"")) {
            g_string_append_printf(out, "role=\"img\" aria-labelledby=\"t d\"\n%s\n", line);
        } else if (*line && !g_str_has_prefix(line, "<desc>") &&
                   !g_str_has_prefix(line, "<title>gnuplot_plot_")) {
            char *plot = strstr(line, "<title>gnuplot_plot_");
            if (plot)
                *plot = 0;
            append_line(out, line);
        }
    }
    g_strfreev(lines);
    return g_string_free(out, FALSE);
}
