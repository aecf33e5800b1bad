// SPDX-License-Identifier: GPL-3.0-or-later
// The network's report.
#include "pack/report.h"

#include "pack/card.h"
#include "pack/figure.h"
#include "pack/findingkinds.h"
#include "pack/html.h"
#include "pack/page.h"
#include "pack/prose.h"
#include "pack/replaypage.h"
#include "pack/slugs.h"
#include "pack/theme.h"
#include "replay/answers.h"

enum { MOST_TRIALS = 3 }; // exhibits of a replay; its own pack has all

Report *report_new(const Source *s) {
    Report *r = g_new0(Report, 1);
    r->s = s;
    r->cards = card_all(s);
    r->exhibits = exhibit_all(s);
    if (s->trial && !s->focus)
        g_ptr_array_extend_and_steal(r->exhibits,
                                     replaypage_exhibits(s->trial, MOST_TRIALS, s->charts));
    return r;
}

void report_free(Report *r) {
    if (!r)
        return;
    g_ptr_array_unref(r->cards);
    g_ptr_array_unref(r->exhibits);
    g_free(r);
}

void report_charts(const Report *r, GPtrArray *charts) {
    for (guint i = 0; i < r->cards->len; i++)
        if (((Card *)r->cards->pdata[i])->chart)
            g_ptr_array_add(charts, ((Card *)r->cards->pdata[i])->chart);
    for (guint i = 0; i < r->exhibits->len; i++)
        if (((Exhibit *)r->exhibits->pdata[i])->chart)
            g_ptr_array_add(charts, ((Exhibit *)r->exhibits->pdata[i])->chart);
}

void report_theme(GString *out, const Report *r, Theme theme) {
    char *answer = theme_answer(r->s, theme);
    page_section(out, theme_anchor(theme), theme_heading(theme));
    html_element(out, "p", "class=\"question\"", theme_question(theme));
    g_string_append(out, "<p class=\"answer\">");
    html_prose(out, answer);
    g_string_append(out, "</p>\n");
    for (guint i = 0; i < r->exhibits->len; i++) {
        const Exhibit *x = r->exhibits->pdata[i];
        if (x->kind->theme == theme)
            figure_html(out, x);
    }
    if (theme == THEME_WHAT_IF && r->s->trial)
        replaypage_words(out, r->s->trial, r->s->e->t);
    g_free(answer);
    if (theme != THEME_QUALITY)
        g_string_append(out, "</section>\n");
}

static void contents(GString *out) {
    g_string_append(out, "<nav aria-label=\"Contents\">\n<h2>Contents</h2>\n<ol>\n");
    page_entry(out, "glance", "At a glance");
    for (Theme t = 0; t < THEME_COUNT; t++)
        page_entry(out, theme_anchor(t), theme_heading(t));
    page_entry(out, "units", "Pages for each unit");
    page_entry(out, "methods", "Methods");
    page_entry(out, "cautions", "Cautions");
    page_entry(out, "reproduce", "How to reproduce this report");
    g_string_append(out, "</ol>\n</nav>\n");
}

enum { MOST_SIGNALS = 6 }; // on the first page

static const char signals_heading[] = "What differs or changes by more than chance";
static const char no_signals[] = "Nothing, once everything that was looked at is allowed for. "
                                 "With few transfers, large differences can stay unseen.";

// For a report of one unit alone.
static char *one_unit(const Source *s) {
    return g_strdup_printf("All these transfers were sent by %s: it is compared with no other "
                           "unit, and what is said of the network is said of it alone.",
                           words_whole(s->e, s->network));
}

// A signal without what to look at first, which is said once below all of them.
static void one_signal(GString *out, const char *sentence) {
    const char *look = g_strrstr(sentence, " Look first at ");
    char *text = look ? g_strndup(sentence, (gsize)(look - sentence)) : g_strdup(sentence);
    g_string_append(out, "<li>");
    html_prose(out, text);
    g_string_append(out, "</li>\n");
    g_free(text);
}

// The signals that a report tells of: a unit's own page of the unit, the whole one of all; where
// one unit sent all, those of the network are its own.
static GPtrArray *told(const Source *s) {
    GPtrArray *list = g_ptr_array_new();
    for (guint i = 0; i < s->signals->list->len; i++) {
        Signal *signal = s->signals->list->pdata[i];
        if (!s->focus || signal->unit == s->focus || words_single(s->e))
            g_ptr_array_add(list, signal);
    }
    return list;
}

static const char *sentence_at(const GPtrArray *signals, guint i) {
    return ((const Signal *)signals->pdata[i])->sentence;
}

void report_signals(GString *out, const Source *s) {
    GPtrArray *signals = told(s);
    const guint n = signals->len;
    html_element(out, "h3", "", signals_heading);
    g_string_append(out, n > 0 ? "<ul class=\"short\">\n" : "");
    for (guint i = 0; i < MIN(n, MOST_SIGNALS); i++)
        one_signal(out, sentence_at(signals, i));
    g_string_append(out, n > 0 ? "</ul>\n" : "");
    g_ptr_array_unref(signals);
    if (words_single(s->e)) {
        char *text = one_unit(s);
        html_element(out, "p", "", text);
        g_free(text);
    }
    if (n == 0) {
        html_element(out, "p", "", no_signals);
        return;
    }
    char *further = n > MOST_SIGNALS
                        ? g_strdup_printf(" Further ones in signals.csv: %u.", n - MOST_SIGNALS)
                        : NULL;
    char *look = g_strconcat("Look first at how the records were made and whether that changed, "
                             "then at the mix of patients, then at practice. q: the part of "
                             "false alarms to expect among signals at least as strong as that one.",
                             further, NULL);
    html_element(out, "p", "class=\"small\"", look);
    g_free(further);
    g_free(look);
}

static void glance(GString *out, const Report *r) {
    page_section(out, "glance", "At a glance");
    card_html(out, r->s, r->cards);
    bool lines = false;
    for (guint i = 0; i < r->cards->len; i++)
        lines = lines || ((Card *)r->cards->pdata[i])->chart;
    html_element(out, "p", "class=\"small\"",
                 !lines ? "Over the whole span, with its interval."
                        : "Large: over the whole span, with its interval. Line: by quarter, the "
                          "dashed line the value over all. Change: from the one quarter to the "
                          "next, with its interval; one that reaches from minus to plus may be "
                          "chance alone. Of minutes it is the typical difference between a "
                          "patient of the one and of the other, not that of the two medians.");
    report_signals(out, r->s);
    g_string_append(out, "<h3>In short</h3>\n<ul class=\"short\">\n");
    for (Theme t = 0; t < THEME_QUALITY; t++) {
        char *answer = theme_answer(r->s, t);
        g_string_append_printf(out, "<li><a href=\"#%s\">%s</a>: ", theme_anchor(t),
                               theme_heading(t));
        html_prose(out, answer);
        g_string_append(out, "</li>\n");
        g_free(answer);
    }
    g_string_append(out, "</ul>\n</section>\n");
}

static void quality(GString *out, const Report *r) {
    report_theme(out, r, THEME_QUALITY);
    Sheet *sheets[] = {prose_account(r->s), findingkinds_sheet(r->s->kinds, 0)};
    for (unsigned i = 0; i < G_N_ELEMENTS(sheets); i++)
        if (sheets[i]) {
            sheet_html(out, sheets[i]);
            sheet_free(sheets[i]);
        }
    g_string_append(out, "</section>\n");
}

// A section with a link to each unit's page.
static void unit_links(GString *out, const Source *s) {
    GPtrArray *slugs = slugs_of(s);
    page_section(out, "units", "Pages for each unit");
    html_element(out, "p", "",
                 "Each unit has a page of its own beside this file, in which the "
                 "others stand unnamed.");
    g_string_append(out, "<ul class=\"columns\">\n");
    for (guint u = 1; u < s->e->units->len; u++) {
        g_string_append_printf(out, "<li><a href=\"units/%s.html\">", (char *)slugs->pdata[u - 1]);
        html_escape(out,
                    words_unit_name(s->e, s->network, g_array_index(s->e->units, uint16_t, u)));
        g_string_append(out, "</a></li>\n");
    }
    g_string_append(out, "</ul>\n</section>\n");
    g_ptr_array_unref(slugs);
}

GString *report_html(const Report *r) {
    char *span = page_span(r->s);
    GString *out = page_begin(r->s, "Transfer audit", "Critical-care transfers: the audit", span);
    contents(out);
    g_string_append(out, "<main id=\"main\">\n");
    glance(out, r);
    for (Theme t = 0; t < THEME_QUALITY; t++)
        report_theme(out, r, t);
    quality(out, r);
    unit_links(out, r->s);
    prose_methods(out, r->s);
    prose_cautions(out, r->s);
    prose_reproduce(out, r->s);
    g_string_append(out, "</main>\n");
    page_end(out, r->s);
    g_free(span);
    return out;
}

static void markdown_list(GString *out, GPtrArray *sentences) {
    for (guint i = 0; i < sentences->len; i++) {
        g_string_append(out, "- ");
        sheet_markdown_text(out, sentences->pdata[i]);
        g_string_append_c(out, '\n');
    }
    g_string_append_c(out, '\n');
    g_ptr_array_unref(sentences);
}

static void markdown_signals(GString *out, const Source *s) {
    GPtrArray *signals = told(s);
    const guint n = signals->len;
    g_string_append_printf(out, "## %s\n\n", signals_heading);
    if (words_single(s->e)) {
        char *text = one_unit(s);
        sheet_markdown_text(out, text);
        g_string_append(out, "\n\n");
        g_free(text);
    }
    for (guint i = 0; i < MIN(n, MOST_SIGNALS); i++) {
        g_string_append(out, "- ");
        sheet_markdown_text(out, sentence_at(signals, i));
        g_string_append_c(out, '\n');
    }
    if (n > MOST_SIGNALS)
        g_string_append_printf(out, "\nFurther ones in signals.csv: %u.", n - MOST_SIGNALS);
    if (n == 0)
        g_string_append(out, no_signals);
    g_string_append(out, n > MOST_SIGNALS || n == 0 ? "\n\n" : "\n");
    g_ptr_array_unref(signals);
}

static void markdown_theme(GString *out, const Report *r, Theme t) {
    char *answer = theme_answer(r->s, t);
    g_string_append_printf(out, "## %s\n\n*%s*\n\n%s\n\n", theme_heading(t), theme_question(t),
                           answer);
    for (guint i = 0; i < r->exhibits->len; i++) {
        const Exhibit *x = r->exhibits->pdata[i];
        if (x->kind->theme != t || !x->sheet)
            continue;
        sheet_markdown(out, x->sheet);
        if (x->note) {
            g_string_append_c(out, '\n');
            sheet_markdown_text(out, x->note);
            g_string_append_c(out, '\n');
        }
        g_string_append_c(out, '\n');
    }
    if (t == THEME_WHAT_IF && r->s->trial) {
        markdown_list(out, answers_list(r->s->trial));
        markdown_list(out, answers_cautions());
    }
    g_free(answer);
}

GString *report_markdown(const Report *r) {
    GString *out = g_string_new("# Critical-care transfers: the audit\n\n");
    char *span = page_span(r->s);
    sheet_markdown_text(out, page_network(r->s));
    g_string_append_printf(out, ", %s\n\n", span);
    if (words_notice(r->s->network)) {
        g_string_append(out, "**");
        sheet_markdown_text(out, words_notice(r->s->network));
        g_string_append(out, "**\n\n");
    }
    char *refused = page_refused(r->s);
    if (refused) {
        g_string_append(out, "**");
        sheet_markdown_text(out, refused);
        g_string_append(out, "**\n\n");
    }
    g_free(refused);
    card_markdown(out, r->s, r->cards);
    markdown_signals(out, r->s);
    for (Theme t = 0; t < THEME_COUNT; t++)
        markdown_theme(out, r, t);
    Sheet *account = prose_account(r->s), *findings = findingkinds_sheet(r->s->kinds, 0);
    sheet_markdown(out, account);
    g_string_append_c(out, '\n');
    if (findings)
        sheet_markdown(out, findings);
    g_string_append(out, "\n## Cautions\n\n");
    for (guint k = 0; prose_caution(r->s, k); k++)
        g_string_append_printf(out, "- %s\n", prose_caution(r->s, k));
    sheet_free(account);
    sheet_free(findings);
    g_free(span);
    return out;
}
