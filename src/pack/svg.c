// SPDX-License-Identifier: GPL-3.0-or-later
// Rewriting gnuplot's SVG, line by line: its output is regular.
#include "pack/svg.h"

#include "pack/html.h"

#include <stdbool.h>
#include <string.h>

#define FONTS "Inter, 'Open Sans', 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"

// Well-formed XML from the first tag to the last, without a NUL. A piece lost within one path's
// numbers would leave it so; but what draws writes into a pipe, which loses none.
static bool is_whole(const char *text, gsize length, GError **error) {
    static const GMarkupParser no_handlers = {0};
    GMarkupParseContext *context = g_markup_parse_context_new(&no_handlers, 0, NULL, NULL);
    bool whole = g_markup_parse_context_parse(context, text, (gssize)length, error) &&
                 g_markup_parse_context_end_parse(context, error);
    g_markup_parse_context_free(context);
    if (whole && memchr(text, 0, length)) {
        g_set_error(error, G_MARKUP_ERROR, G_MARKUP_ERROR_PARSE, "there is a NUL in it");
        whole = false;
    }
    if (!whole)
        g_prefix_error(error, "gnuplot wrote the picture only in part: ");
    return whole;
}

// A piece of the text.
typedef struct {
    const char *at;
    gsize length;
} Slice;

static bool begins(const Slice *s, const char *with) {
    const gsize n = strlen(with);
    return s->length >= n && memcmp(s->at, with, n) == 0;
}

// Cuts the slice at the next `what`, and returns what is before it; all of it if there is none.
static Slice until(Slice *s, const char *what, bool *found) {
    const char *at = memmem(s->at, s->length, what, strlen(what));
    const Slice before = {s->at, at ? (gsize)(at - s->at) : s->length};
    const gsize used = before.length + (at ? strlen(what) : 0);
    *found = at != NULL;
    s->at += used;
    s->length -= used;
    return before;
}

static const struct {
    const char *from, *to;
} rewritten[] = {
    {" font-family=\"Inter\"", ""}, // stands once for all
    {"font-weight=\"bold\"", "font-weight=\"600\""},
    {" stroke-linecap=\"butt\" stroke-linejoin=\"miter\"", ""}, // what holds anyway
};

// A line in which the k-th and later ones are rewritten.
static void append_rewritten(GString *out, Slice line, unsigned k) {
    if (k == G_N_ELEMENTS(rewritten)) {
        g_string_append_len(out, line.at, (gssize)line.length);
        return;
    }
    for (bool more = true; more;) {
        append_rewritten(out, until(&line, rewritten[k].from, &more), k + 1);
        if (more)
            g_string_append(out, rewritten[k].to);
    }
}

static void append_heading(GString *out, const char *title, const char *description) {
    g_string_append(out, "<title id=\"t\">");
    html_escape(out, title);
    g_string_append(out, "</title>\n<desc id=\"d\">");
    html_escape(out, description);
    g_string_append(out, "</desc>\n");
}

static void append_line(GString *out, Slice line, const char *title, const char *description) {
    if (begins(&line, "<title>Gnuplot</title>")) {
        append_heading(out, title, description);
        return;
    }
    if (begins(&line, "<desc>") || begins(&line, "<title>gnuplot_plot_"))
        return;
    if (begins(&line, "xmlns=\""))
        g_string_append(out, "role=\"img\" aria-labelledby=\"t d\" font-family=\"" FONTS "\"\n");
    bool named;
    if (begins(&line, "<text>")) // a label may look like anything
        g_string_append_len(out, line.at, (gssize)line.length);
    else
        append_rewritten(out, until(&line, "<title>", &named), 0); // without the name of a plot
    g_string_append_c(out, '\n');
}

char *svg_finish(const char *text, gsize length, const char *title, const char *description,
                 GError **error) {
    GString *out = g_string_sized_new(length);
    Slice rest = {text, length};
    gsize group = 0; // where the last line begins, if it opens a group
    for (bool more = true; more;) {
        Slice line = until(&rest, "\n", &more);
        while (line.length > 0 && (*line.at == ' ' || *line.at == '\t'))
            line.at++, line.length--;
        if (line.length == 0)
            continue;
        if (group && line.length == 4 && begins(&line, "</g>")) {
            g_string_truncate(out, group); // nothing is in it
            group = 0;
            continue;
        }
        group = begins(&line, "<g ") ? out->len : 0;
        append_line(out, line, title, description);
    }
    if (is_whole(out->str, out->len, error))
        return g_string_free(out, FALSE);
    g_string_free(out, TRUE);
    return NULL;
}
