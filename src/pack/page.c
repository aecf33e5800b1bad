// SPDX-License-Identifier: GPL-3.0-or-later
// The frame of an HTML page.
#include "pack/page.h"

#include "base/embed.h"
#include "base/version.h"
#include "base/visible.h"
#include "pack/html.h"
#include "pack/releasetext.h"
#include "pack/words.h"

static const char head[] =
    "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta "
    "name=\"viewport\" "
    "content=\"width=device-width, initial-scale=1\">\n<meta "
    "http-equiv=\"Content-Security-Policy\" "
    "content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; "
    "form-action 'none'\">\n<meta name=\"referrer\" content=\"no-referrer\">\n";

const char *page_network(const Source *s) {
    return *s->network->name ? visible_isolated(s->network->name) : "A network";
}

static const char *const months[] = {"January",   "February", "March",    "April",
                                     "May",       "June",     "July",     "August",
                                     "September", "October",  "November", "December"};

char *page_span(const Source *s) {
    const Period *all = &g_array_index(s->e->periods, Period, 0);
    if (all->end <= all->first)
        return g_strdup("no record used");
    const int a = all->first, b = all->end - 1;
    if (a == b)
        return g_strdup_printf("%s %d", months[a % 12], a / 12);
    if (a / 12 == b / 12)
        return g_strdup_printf("%s to %s %d", months[a % 12], months[b % 12], b / 12);
    return g_strdup_printf("%s %d to %s %d", months[a % 12], a / 12, months[b % 12], b / 12);
}

// A CSS string: every character but letters and digits as its code.
static void css_string(GString *out, const char *text) {
    char *valid = g_utf8_make_valid(text, -1);
    g_string_append_c(out, '"');
    for (const char *p = valid; *p; p = g_utf8_next_char(p)) {
        const gunichar c = g_utf8_get_char(p);
        if (c < 128 && g_ascii_isalnum((char)c))
            g_string_append_c(out, (char)c);
        else
            g_string_append_printf(out, "\\%06x ", c);
    }
    g_string_append_c(out, '"');
    g_free(valid);
}

// What stands in the margins of each printed page.
static void margins(GString *out, const Source *s, const char *title) {
    char *span = page_span(s), *left = g_strdup_printf("%s · %s", title, span);
    g_string_append(out, "@page { @top-left { content: ");
    css_string(out, left);
    g_string_append(out, "; } @top-right { content: ");
    css_string(out, words_notice(s->network) ? words_notice(s->network) : "");
    g_string_append(out, "; } }\n");
    g_free(left);
    g_free(span);
}

char *page_refused(const Source *s) {
    GString *out = g_string_new(NULL);
    guint n = 0;
    for (guint i = 0; s->findings && i < s->findings->findings->len; i++) {
        const Finding *f = &g_array_index(s->findings->findings, Finding, i);
        if (strcmp(f->code, "refused") != 0)
            continue;
        char *seen = visible_only(s->files[f->file], -1);
        g_string_append_printf(out, "%s%s", n++ ? ", " : "",
                               visible_isolated(seen ? seen : s->files[f->file]));
        g_free(seen);
    }
    if (n > 0 && s->focus) // names of logs may be those of other units
        g_string_printf(out, "%u", n);
    if (n > 0)
        g_string_prepend(out, "Refused, and not counted here: ");
    if (n > 0 && s->focus)
        g_string_append(out, n == 1 ? " log" : " logs");
    return g_string_free(out, n == 0);
}

GString *page_begin(const Source *s, const char *title, const char *heading, const char *line) {
    GString *out = g_string_new(head);
    const char *style = embed_text("report.css"), *notice = words_notice(s->network);
    html_element(out, "title", "", title);
    g_string_append_printf(out, "<style>\n%s", style ? style : "");
    margins(out, s, title);
    g_string_append_printf(out,
                           "</style>\n</head>\n<body%s>\n<a class=\"skip\" href=\"#main\">To the "
                           "report</a>\n<header>\n",
                           s->focus    ? " class=\"unit\""
                           : s->hiding ? " class=\"release\""
                                       : "");
    char *refused = page_refused(s);
    if (notice)
        html_element(out, "p", "class=\"notice\" dir=\"auto\"", notice);
    if (refused)
        html_element(out, "p", "class=\"notice\"", refused);
    g_free(refused);
    if (s->hiding) {
        char *banner = releasetext_banner(s->hiding);
        html_element(out, "p", "class=\"notice\"", banner);
        g_free(banner);
    }
    html_element(out, "p", "class=\"network\"", page_network(s));
    html_element(out, "h1", "", heading);
    if (line)
        html_element(out, "p", "class=\"line\"", line);
    g_string_append(out, "</header>\n");
    return out;
}

void page_end(GString *out, const Source *s) {
    const char *notice = words_notice(s->network);
    g_string_append(out, "<footer>\n");
    html_element(out, "p", "",
                 "Not for decisions about one patient or one clinician. A unit that "
                 "differs is a reason to look; it is no verdict.");
    if (notice)
        html_element(out, "p", "", notice);
    html_element(out, "p", "", "Written by crossward " VERSION_TEXT ".");
    g_string_append(out, "</footer>\n</body>\n</html>\n");
}

void page_entry(GString *out, const char *anchor, const char *text) {
    g_string_append_printf(out, "<li><a href=\"#%s\">", anchor);
    html_escape(out, text);
    g_string_append(out, "</a></li>\n");
}

void page_section(GString *out, const char *anchor, const char *heading) {
    g_string_append_printf(out, "<section id=\"%s\" aria-labelledby=\"%s-h\">\n<h2 id=\"%s-h\">",
                           anchor, anchor, anchor);
    html_escape(out, heading);
    g_string_append(out, "</h2>\n");
}
