// SPDX-License-Identifier: GPL-3.0-or-later
// The words of a release.
#include "pack/releasetext.h"

#include "pack/html.h"

static const char heading[] = "How small counts are hidden, and what that does not guard against";

static const char *const texts[][2] = {
    {"Hidden for itself",
     "A row of summary.csv, and the number drawn from it, is hidden whole, since limits and "
     "percentages tell their counts: where the events are a small count, or those among whom they "
     "are counted, or the rest of those, or the unknown. A waiting time is also hidden where only "
     "so few patients waited as long, or as short, as it or one of its limits says, and a rate "
     "where "
     "its hours or kilometres are those of so few. A 0 is not hidden for itself; its row can be "
     "hidden for another count."},
    {"Hidden for others",
     "Further rows are hidden so that no small count of a hidden row follows from sums and "
     "differences: of units and the network; of months, quarters, years and the whole span; of "
     "groups, or parts of a mix, and their whole; of indicators that count the same, or of which "
     "one is the sum of two others or of parts of one mix or breakdown. Which rows those are is "
     "not marked; who knows the rules may infer some. The account of rows is treated alike; how "
     "long each log is is not told."},
    {"Not guarded: other releases",
     "Whoever subtracts two releases of periods that overlap (a quarter's from that of the year to "
     "date, say), or of the same period with another smallest count, other settings or later "
     "logs, may find a hidden count. Give out one release of a period, and none that adds a little "
     "to it."},
    {"Not guarded: knowledge from inside",
     "Who knows one of the hidden counts, as a unit knows its own, may take it from a sum and so "
     "find another's."},
    {"Not guarded: one indicator within another",
     "Where all that one indicator counts is also counted by another (time-critical transfers, "
     "say, and all transfers of a unit), the difference of two numbers shown can be small; and so "
     "can what more than two equations leave together."},
    {"Not guarded: bounds, and nobody or everybody",
     "A hidden count has bounds, sometimes narrow ones; mostly it is no 0. A 0 that is shown, or a "
     "share of 0 % or 100 %, tells something of each patient of that group. A group or code stands "
     "in the tables if anybody was in it, whether or not its numbers are shown."},
};

// The largest small count as it stands in a sentence: "counts of 1 to 9".
static char *small(const Hiding *h) {
    return h->least == 2 ? g_strdup("counts of 1")
                         : g_strdup_printf("counts of 1 to %u", h->least - 1);
}

char *releasetext_banner(const Hiding *h) {
    char *counts = small(h),
         *text = g_strdup_printf("A release: %s are hidden, and what would give them away. Do not "
                                 "try to recover them.",
                                 counts);
    g_free(counts);
    return text;
}

char *releasetext_mark(const Hiding *h) {
    char *counts = small(h),
         *text = g_strdup_printf("hidden: the row holds one of the %s, or would give one away. It "
                                 "is hidden whole. Do not try to recover it.",
                                 counts);
    g_free(counts);
    return text;
}

char *releasetext_note(const Hiding *h, guint hidden, guint all) {
    char *counts = small(h),
         *text = g_strdup_printf("Hidden: %u of %u numbers, since they hold %s or would give such "
                                 "counts away. Do not try to recover them.",
                                 hidden, all, counts);
    g_free(counts);
    return text;
}

static char *definition(const Hiding *h) {
    char *counts = small(h), *text = g_strdup_printf("%s. They are hidden so that no patient is "
                                                     "recognised in them.",
                                                     counts);
    text[0] = g_ascii_toupper(text[0]);
    g_free(counts);
    return text;
}

void releasetext_html(GString *out, const Hiding *h) {
    char *small_counts = definition(h);
    html_element(out, "h3", "", heading);
    g_string_append(out, "<dl>\n");
    html_element(out, "dt", "", "Small counts");
    html_element(out, "dd", "", small_counts);
    for (unsigned i = 0; i < G_N_ELEMENTS(texts); i++) {
        html_element(out, "dt", "", texts[i][0]);
        html_element(out, "dd", "", texts[i][1]);
    }
    g_string_append(out, "</dl>\n");
    g_free(small_counts);
}

void releasetext_markdown(GString *out, const Hiding *h) {
    char *small_counts = definition(h);
    g_string_append_printf(out, "## %s\n\n- Small counts: %s\n", heading, small_counts);
    for (unsigned i = 0; i < G_N_ELEMENTS(texts); i++)
        g_string_append_printf(out, "- %s: %s\n", texts[i][0], texts[i][1]);
    g_string_append_c(out, '\n');
    g_free(small_counts);
}
