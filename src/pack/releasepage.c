// SPDX-License-Identifier: GPL-3.0-or-later
// One page: what a release shows, theme by theme, how far it can be trusted, and what it hides.
#include "pack/releasepage.h"

#include "pack/html.h"
#include "pack/page.h"
#include "pack/prose.h"
#include "pack/releasetables.h"
#include "pack/releasetext.h"

static const char title[] = "Critical-care transfers: a release of the audit";
static const char other_heading[] = "Other indicators"; // those that a network added itself
static const char trust[] = "What a log leaves open is shown as not known beside each figure, "
                            "never counted as no. A number "
                            "that is not shown is hidden: it is no zero, and not unknown.";

typedef struct {
    const Source *s;
    GPtrArray *of[THEME_COUNT]; // tables by theme, of ReleaseTable
} Page;

static Page page_new(const Source *s) {
    Page p = {.s = s};
    for (Theme t = 0; t < THEME_COUNT; t++)
        p.of[t] = releasetables_of(s, t);
    return p;
}

static void page_clear(Page *p) {
    for (Theme t = 0; t < THEME_COUNT; t++)
        g_ptr_array_unref(p->of[t]);
}

static const char *anchor(Theme t) {
    return t == THEME_QUALITY ? "other" : theme_anchor(t);
}

static const char *heading(Theme t) {
    return t == THEME_QUALITY ? other_heading : theme_heading(t);
}

static void html_table(GString *out, const ReleaseTable *t) {
    sheet_html(out, t->sheet);
    if (t->note)
        html_element(out, "p", "class=\"small\"", t->note);
}

static void html_contents(GString *out, const Page *p) {
    g_string_append(out, "<nav aria-label=\"Contents\">\n<h2>Contents</h2>\n<ol>\n");
    for (Theme t = 0; t < THEME_COUNT; t++)
        if (p->of[t]->len)
            page_entry(out, anchor(t), heading(t));
    page_entry(out, theme_anchor(THEME_QUALITY), theme_heading(THEME_QUALITY));
    page_entry(out, "methods", "Methods");
    page_entry(out, "cautions", "Cautions");
    page_entry(out, "reproduce", "How to reproduce this report");
    g_string_append(out, "</ol>\n</nav>\n");
}

static void html_theme(GString *out, const Page *p, Theme t) {
    page_section(out, anchor(t), heading(t));
    if (t != THEME_QUALITY) {
        char *answer = theme_answer(p->s, t);
        html_element(out, "p", "class=\"question\"", theme_question(t));
        g_string_append(out, "<p class=\"answer\">");
        html_prose(out, answer);
        g_string_append(out, "</p>\n");
        g_free(answer);
    }
    for (guint k = 0; k < p->of[t]->len; k++)
        html_table(out, p->of[t]->pdata[k]);
    g_string_append(out, "</section>\n");
}

static void html_quality(GString *out, const Source *s) {
    ReleaseTable *tables[] = {releasetables_account(s), releasetables_rows(s)};
    page_section(out, theme_anchor(THEME_QUALITY), theme_heading(THEME_QUALITY));
    html_element(out, "p", "class=\"question\"", theme_question(THEME_QUALITY));
    html_element(out, "p", "", trust);
    for (unsigned k = 0; k < G_N_ELEMENTS(tables); k++) {
        html_table(out, tables[k]);
        releasetables_free(tables[k]);
    }
    g_string_append(out, "</section>\n");
}

GString *releasepage_html(const Source *s) {
    Page p = page_new(s);
    char *span = page_span(s);
    GString *out = page_begin(s, "Transfer audit, release", title, span);
    html_contents(out, &p);
    g_string_append(out, "<main id=\"main\">\n");
    for (Theme t = 0; t < THEME_COUNT; t++)
        if (p.of[t]->len)
            html_theme(out, &p, t);
    html_quality(out, s);
    prose_methods(out, s);
    prose_cautions(out, s);
    prose_reproduce(out, s);
    g_string_append(out, "</main>\n");
    page_end(out, s);
    g_free(span);
    page_clear(&p);
    return out;
}

static void markdown_line(GString *out, const char *text) {
    sheet_markdown_text(out, text);
    g_string_append(out, "\n\n");
}

static void markdown_bold(GString *out, const char *text) {
    if (!text)
        return;
    g_string_append(out, "**");
    sheet_markdown_text(out, text);
    g_string_append(out, "**\n\n");
}

static void markdown_table(GString *out, const ReleaseTable *t) {
    sheet_markdown(out, t->sheet);
    g_string_append_c(out, '\n');
    if (t->note)
        markdown_line(out, t->note);
}

static void markdown_theme(GString *out, const Page *p, Theme t) {
    g_string_append_printf(out, "## %s\n\n", heading(t));
    if (t != THEME_QUALITY) {
        char *answer = theme_answer(p->s, t);
        g_string_append_printf(out, "*%s*\n\n%s\n\n", theme_question(t), answer);
        g_free(answer);
    }
    for (guint k = 0; k < p->of[t]->len; k++)
        markdown_table(out, p->of[t]->pdata[k]);
}

static void markdown_quality(GString *out, const Source *s) {
    ReleaseTable *tables[] = {releasetables_account(s), releasetables_rows(s)};
    g_string_append_printf(out, "## %s\n\n%s\n\n", theme_heading(THEME_QUALITY), trust);
    for (unsigned k = 0; k < G_N_ELEMENTS(tables); k++) {
        markdown_table(out, tables[k]);
        releasetables_free(tables[k]);
    }
}

static void markdown_head(GString *out, const Source *s) {
    char *span = page_span(s), *banner = releasetext_banner(s->hiding), *refused = page_refused(s);
    g_string_append_printf(out, "# %s\n\n", title);
    sheet_markdown_text(out, page_network(s));
    g_string_append_printf(out, ", %s\n\n", span);
    markdown_bold(out, banner);
    markdown_bold(out, words_notice(s->network));
    markdown_bold(out, refused);
    g_free(refused);
    g_free(banner);
    g_free(span);
}

GString *releasepage_markdown(const Source *s) {
    Page p = page_new(s);
    GString *out = g_string_new(NULL);
    markdown_head(out, s);
    for (Theme t = 0; t < THEME_COUNT; t++)
        if (p.of[t]->len)
            markdown_theme(out, &p, t);
    markdown_quality(out, s);
    releasetext_markdown(out, s->hiding);
    g_string_append(out, "## Cautions\n\n");
    for (guint k = 0; prose_caution(s, k); k++)
        g_string_append_printf(out, "- %s\n", prose_caution(s, k));
    page_clear(&p);
    return out;
}
