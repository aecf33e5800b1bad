// SPDX-License-Identifier: GPL-3.0-or-later
// What the board sees of a replay.
#include "pack/replaypage.h"

#include "pack/figure.h"
#include "pack/html.h"
#include "pack/page.h"
#include "replay/answers.h"

#include <math.h>

// A chart each.
static const struct {
    ExhibitKind kind;
    TrialMeasure measure;
    WordsUnit unit;
    const char *what; // after "With 3 teams, round the clock: 61 % "
} shown[] = {
    {{"reached", THEME_WHAT_IF, NULL, NULL, FIELD_COUNT, NULL, false},
     TRIAL_REACHED,
     WORDS_PERCENT,
     "of requests reached"},
    {{"critical-in-target", THEME_WHAT_IF, NULL, NULL, FIELD_COUNT, NULL, false},
     TRIAL_IN_TARGET,
     WORDS_PERCENT,
     "of time-critical requests leave with a team within the target"},
    {{"hours-kept", THEME_WHAT_IF, NULL, NULL, FIELD_COUNT, NULL, false},
     TRIAL_KEPT_HOURS,
     WORDS_HOURS,
     "a week that the sending units' own people are still away"},
    {{"critical-reached", THEME_WHAT_IF, NULL, NULL, FIELD_COUNT, NULL, false},
     TRIAL_REACHED_CRITICAL,
     WORDS_PERCENT,
     "of time-critical requests reached"},
    {{"use", THEME_WHAT_IF, NULL, NULL, FIELD_COUNT, NULL, false},
     TRIAL_USE,
     WORDS_PERCENT,
     "of the time on duty a team is out"},
};

static unsigned rosters(const Trial *r) {
    return r->rules->rosters->len;
}

static const StatsInterval *value(const Trial *r, unsigned roster, unsigned teams, TrialMeasure m) {
    return &trial_scenario(r, roster, teams)->value[m];
}

static Sheet *table(const Trial *r, guint k) {
    Sheet *s = sheet_new(trial_measures[shown[k].measure].title);
    sheet_column(s, "Teams", SHEET_TEXT, WORDS_COUNT);
    for (unsigned roster = 0; roster < rosters(r); roster++) {
        char *name = answers_roster(r->rules, roster);
        sheet_column(s, name, SHEET_INTERVAL, shown[k].unit);
        g_free(name);
    }
    for (unsigned teams = 0; teams <= r->rules->teams; teams++) {
        char *n = g_strdup_printf("%u", teams);
        sheet_text(s, n);
        g_free(n);
        for (unsigned roster = 0; roster < rosters(r); roster++) {
            const StatsInterval *v = value(r, roster, teams, shown[k].measure);
            sheet_interval(s, v->estimate, v->lower, v->upper);
        }
    }
    return s;
}

static char *title(const Trial *r, guint k) {
    const unsigned teams = trial_enough(r, 0);
    const StatsInterval *v = value(r, 0, teams, shown[k].measure);
    char *roster = answers_roster(r->rules, 0);
    char *figure = words_interval(shown[k].unit, v->estimate, v->lower, v->upper,
                                  words_decimals(shown[k].unit, v->estimate));
    char *text = g_strdup_printf("With %u team%s, %s: %s %s", teams, teams == 1 ? "" : "s", roster,
                                 figure, shown[k].what);
    g_free(figure);
    g_free(roster);
    return text;
}

static void add_roster(Chart *c, const Trial *r, guint k, unsigned roster) {
    double last = NAN, at = 0;
    for (unsigned teams = 0; teams <= r->rules->teams; teams++) {
        const StatsInterval *v = value(r, roster, teams, shown[k].measure);
        const double row[] = {teams, v->estimate, v->lower, v->upper};
        if (!isfinite(v->estimate))
            continue;
        chart_row(c, 4, row);
        last = v->estimate, at = teams;
    }
    chart_row(c, 0, NULL);
    char *name = answers_roster(r->rules, roster);
    const ChartPlace place = {.x = at,
                              .y = last,
                              .dx = 10,
                              .align = "left",
                              .colour = roster == 0 ? "blue" : "purple",
                              .size = 12};
    char *cut = chart_fit(name, 12, 160);
    if (isfinite(last))
        chart_label(c, &place, cut);
    g_free(cut);
    g_free(name);
}

static Chart *draw(const Trial *r, guint k) {
    static const ChartFrame frame = {CHART_WIDTH, 52, 146, 10, 46, 150};
    const bool percent = shown[k].unit == WORDS_PERCENT;
    const unsigned most = r->rules->teams;
    char *head = title(r, k);
    Chart *c = chart_new(
        "teams.gp", head,
        "Bands: intervals from resampled weeks. The broken line is the other roster.", &frame);
    double highest = 0, *place = g_new(double, most + 1);
    char **text = g_new0(char *, most + 2);
    for (unsigned teams = 0; teams <= most; teams++) {
        place[teams] = teams;
        text[teams] = g_strdup_printf("%u", teams);
        for (unsigned roster = 0; roster < rosters(r); roster++) {
            const StatsInterval *v = value(r, roster, teams, shown[k].measure);
            highest = fmax(highest, fmax(v->estimate, v->upper));
        }
    }
    chart_set(c, "rosters", rosters(r));
    for (unsigned roster = 0; roster < rosters(r); roster++)
        add_roster(c, r, k, roster);
    chart_range(c, 'x', -0.2, most + 0.2);
    chart_tics(c, 'x', most + 1, place, (const char *const *)text);
    chart_range(c, 'y', 0,
                chart_steps(c, 'y', percent ? 1 : fmax(highest, 1), 5, percent ? 100 : 1,
                            percent ? " %" : " h"));
    chart_axis_name(c, "Number of dedicated teams");
    c->name = g_strdup(shown[k].kind.name);
    c->finding = g_strdup_printf("Lines against the number of teams. %s.", head);
    g_free(head);
    g_free(place);
    g_strfreev(text);
    return c;
}

static bool any_known(const Trial *r, guint k) {
    for (unsigned roster = 0; roster < rosters(r); roster++)
        for (unsigned teams = 0; teams <= r->rules->teams; teams++)
            if (isfinite(value(r, roster, teams, shown[k].measure)->estimate))
                return true;
    return false;
}

GPtrArray *replaypage_exhibits(const Trial *trial, guint most, bool charts) {
    GPtrArray *list = g_ptr_array_new_with_free_func(exhibit_free);
    for (guint k = 0; k < G_N_ELEMENTS(shown) && list->len < most; k++)
        if (any_known(trial, k))
            g_ptr_array_add(
                list, exhibit_new(&shown[k].kind, charts ? draw(trial, k) : NULL, table(trial, k)));
    return list;
}

static void write_list(GString *out, GPtrArray *sentences) {
    g_string_append(out, "<ul>\n");
    for (guint i = 0; i < sentences->len; i++)
        html_element(out, "li", "", sentences->pdata[i]);
    g_string_append(out, "</ul>\n");
    g_ptr_array_unref(sentences);
}

void replaypage_words(GString *out, const Trial *trial, const Transfers *t) {
    html_element(out, "h3", "", "What it comes to");
    write_list(out, answers_brief(trial));
    html_element(out, "h3", "", "What it rests on");
    write_list(out, answers_assumptions(trial, t));
    html_element(out, "h3", "", "What it is not");
    write_list(out, answers_cautions());
}

GString *replaypage_html(const Source *s, const Trial *trial, const GPtrArray *exhibits) {
    char *span = page_span(s), *heading = g_strdup("What other teams would have reached");
    GString *out = page_begin(s, "Replay", heading, span);
    g_string_append(out, "<nav aria-label=\"Contents\"><ol>\n");
    page_entry(out, "answers", "What it comes to");
    page_entry(out, "figures", "Figures");
    page_entry(out, "assumptions", "What it rests on");
    page_entry(out, "cautions", "What it is not");
    g_string_append(out, "</ol></nav>\n<main id=\"main\">\n");
    page_section(out, "answers", "What it comes to");
    write_list(out, answers_list(trial));
    g_string_append(out, "</section>\n");
    page_section(out, "figures", "Figures");
    for (guint i = 0; i < exhibits->len; i++)
        figure_html(out, exhibits->pdata[i]);
    g_string_append(out, "</section>\n");
    page_section(out, "assumptions", "What it rests on");
    write_list(out, answers_assumptions(trial, s->e->t));
    g_string_append(out, "</section>\n");
    page_section(out, "cautions", "What it is not");
    write_list(out, answers_cautions());
    g_string_append(out, "</section>\n</main>\n");
    page_end(out, s);
    g_free(heading);
    g_free(span);
    return out;
}
