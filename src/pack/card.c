// SPDX-License-Identifier: GPL-3.0-or-later
// Key figures of the first page.
#include "pack/card.h"

#include "base/percent.h"
#include "pack/html.h"
#include "pack/words.h"

#include <math.h>
#include <string.h>

// What the first page shows, of what there is.
static const struct {
    const char *indicator, *title;
    FieldId by;
    uint16_t group;
    uint8_t quantile;
} wanted[] = {
    {"transfers_per_week", "Transfers a week", FIELD_COUNT, 0, 0},
    {"non_clinical_share", "Moved for want of a bed or staff", FIELD_COUNT, 0, 0},
    {"time_to_departure", "Time-critical: half had left within", FIELD_urgency,
     CODE_urgency_TIME_CRITICAL, 1},
    {"departed_in_time_share", "Left within the network's target", FIELD_COUNT, 0, 0},
    {"adverse_event_share", "Had an adverse event", FIELD_COUNT, 0, 0},
    {"trained_escort_share", "Escort trained for transfer", FIELD_COUNT, 0, 0},
    {"papers_complete_share", "Papers complete", FIELD_COUNT, 0, 0},
    {"base_cover_reduced_share", "Sending unit left short", FIELD_COUNT, 0, 0},
};

static void free_card(gpointer data) {
    Card *c = data;
    chart_free(c->chart);
    g_free(c->title);
    g_free(c);
}

static Chart *small_chart(const Source *s, LookupKey key, const GArray *quarters, double all) {
    Chart *c = chart_bare("spark.gp", 220, 56);
    double low = all, high = all;
    guint place = 0; // of the unit in the estimates' units
    while (g_array_index(s->e->units, uint16_t, place) != s->focus)
        place++;
    for (guint k = 0; k < quarters->len; k++) {
        key.period = (uint16_t)g_array_index(quarters, guint, k);
        const Estimate *r = lookup_row(s->lookup, &key);
        const double value = r ? r->estimate : NAN,
                     row[] = {k, value, chart_where(k + 1 == quarters->len, value),
                              chart_where(!signal_whole(s->signals, place, key.period), value)};
        chart_row(c, 4, row);
        low = fmin(low, value);
        high = fmax(high, value);
    }
    const double room = high > low ? (high - low) * 0.25 : fmax(fabs(high), 1) * 0.1;
    chart_range(c, 'x', -0.3, quarters->len - 0.7);
    chart_range(c, 'y', low - room, high + room);
    chart_set(c, "level", all);
    return c;
}

// The series of a card's figure on the same records, or NULL: units have some of those only on the
// records that they are judged by.
static const Series *series_of(const Source *s, const Indicator *indicator, uint16_t urgency) {
    const bool weekly = strcmp(indicator->name, "transfers_per_week") == 0;
    const char *name = weekly ? "transfers" : indicator->name;
    if (s->focus && !weekly && strcmp(indicator->compare, "all") != 0)
        return NULL;
    for (guint i = 0; i < s->signals->series->len; i++) {
        const Series *series = s->signals->series->pdata[i];
        const Indicator *of = s->e->catalogue->pdata[series->indicator];
        if (series->unit == s->focus && series->urgency == urgency && strcmp(of->name, name) == 0)
            return series;
    }
    return NULL;
}

// Place in Estimates.units of the unit whose page it is, 0 of the network.
static guint place_of(const Source *s) {
    guint place = 0;
    while (place + 1 < s->e->units->len && g_array_index(s->e->units, uint16_t, place) != s->focus)
        place++;
    return place;
}

// The last quarter of the span that the logs cover whole, the one before it, and the change from
// that.
static void add_quarters(Card *c, const Source *s, LookupKey key, const GArray *quarters) {
    const guint place = place_of(s);
    guint k = quarters->len - 1;
    while (k > 0 && !signal_whole(s->signals, place, g_array_index(quarters, guint, k)))
        k--;
    const Period *span = &g_array_index(s->e->periods, Period, 0);
    if (k == 0 ||
        g_array_index(s->e->periods, Period, g_array_index(quarters, guint, k)).first < span->first)
        return;
    const guint last = g_array_index(quarters, guint, k);
    key.period = (uint16_t)last;
    c->last = lookup_row(s->lookup, &key);
    c->last_name = g_array_index(s->e->periods, Period, last).name;
    key.period = (uint16_t)(last - 1);
    c->before = lookup_row(s->lookup, &key);
    c->before_name = g_array_index(s->e->periods, Period, last - 1).name;
    c->series = series_of(s, c->indicator, key.group);
    if (c->series && (c->series->quarter.now != last || c->series->quarter.then != last - 1))
        c->series = NULL; // the logs do not cover both
}

static void add_card(GPtrArray *cards, const Source *s, guint i) {
    LookupKey key = lookup_key(wanted[i].indicator);
    key.by = wanted[i].by;
    key.group = wanted[i].group;
    key.quantile = wanted[i].quantile;
    const Estimate *network = lookup_row(s->lookup, &key);
    key.unit = s->focus;
    const Estimate *all = lookup_row(s->lookup, &key);
    if (!all || !isfinite(all->estimate))
        return;
    Card *c = g_new0(Card, 1);
    c->indicator = lookup_indicator(s->lookup, wanted[i].indicator);
    c->title = g_strdup(wanted[i].title);
    c->all = all;
    c->network = s->focus && !words_single(s->e) ? network : NULL;
    GArray *quarters = lookup_periods(s->lookup, PERIOD_QUARTER);
    // units have no quarters broken down
    if (quarters->len > 1 && !(s->focus && key.by < FIELD_COUNT)) {
        add_quarters(c, s, key, quarters);
        if (s->charts) {
            c->chart = small_chart(s, key, quarters, all->estimate);
            c->chart->name = g_strdup_printf("card-%u-%u", s->focus, i);
        }
    }
    g_array_unref(quarters);
    g_ptr_array_add(cards, c);
}

GPtrArray *card_all(const Source *s) {
    GPtrArray *cards = g_ptr_array_new_with_free_func(free_card);
    for (guint i = 0; i < G_N_ELEMENTS(wanted); i++)
        add_card(cards, s, i);
    return cards;
}

// Text of one quarter: "2031-Q4: 23 %".
static char *quarter(const Card *c, const char *name, const Estimate *r) {
    char *value = words_figure(words_unit(c->indicator), r->estimate,
                               words_decimals(words_unit(c->indicator), r->estimate)),
         *text = g_strdup_printf("%s: %s", name, value);
    g_free(value);
    return text;
}

// A change with its sign; of a ratio the per cent that it adds or takes.
static char *signed_figure(const Series *series, double value, int decimals) {
    const double change = series->measure == CHANGE_MEDIAN  ? value
                          : series->measure == CHANGE_SHARE ? 100 * value
                                                            : 100 * (value - 1);
    char *figure = words_figure(WORDS_COUNT, fabs(change), decimals);
    const bool none = strspn(figure, "0.") == strlen(figure);
    char *text = g_strconcat(none ? "" : change < 0 ? "−" : "+", figure, NULL);
    g_free(figure);
    return text;
}

// "change −3.3 points (−8.7 to +2.1)"; NULL where that is not known.
static char *change(const Card *c) {
    if (!c->series || !isfinite(c->series->quarter.step.effect.estimate))
        return NULL;
    const StatsInterval *e = &c->series->quarter.step.effect;
    const bool points = c->series->measure == CHANGE_SHARE;
    const char *unit = points ? " points" : c->series->measure == CHANGE_MEDIAN ? " min" : " %";
    const double widest = fmax(fabs(e->estimate), fmax(fabs(e->lower), fabs(e->upper)));
    const int decimals = points && widest < 0.0995 ? 1 : 0;
    char *value = signed_figure(c->series, e->estimate, decimals), *text;
    if (isfinite(e->lower) && isfinite(e->upper)) {
        char *low = signed_figure(c->series, e->lower, decimals),
             *high = signed_figure(c->series, e->upper, decimals);
        text = g_strdup_printf("change %s%s (%s\u00a0to\u00a0%s)", value, unit, low, high);
        g_free(low);
        g_free(high);
    } else
        text = g_strdup_printf("change %s%s", value, unit);
    g_free(value);
    return text;
}

static char *limits(const Source *s, const Card *c) {
    const WordsUnit unit = words_unit(c->indicator);
    const int decimals = words_decimals(unit, c->all->estimate);
    char *whole = words_interval(unit, c->all->estimate, c->all->lower, c->all->upper, decimals);
    const char *from = g_strrstr(whole, " (");
    char *confidence = percent_exact(s->e->confidence, 4), *text = g_strdup("");
    if (from) {
        char *inner = g_strndup(from + 2, strlen(from + 2) - 1);
        g_free(text);
        text = g_str_has_prefix(inner, "no ")
                   ? g_strdup(inner)
                   : g_strdup_printf("%s interval %s", confidence, inner);
        g_free(inner);
    }
    g_free(confidence);
    g_free(whole);
    return text;
}

static void one_html(GString *out, const Source *s, const Card *c) {
    const WordsUnit unit = words_unit(c->indicator);
    char *value = words_figure(unit, c->all->estimate, words_decimals(unit, c->all->estimate)),
         *between = limits(s, c), *unknown = words_unknown(s->e, c->all);
    g_string_append(out, "<li class=\"card\">\n");
    html_element(out, "h3", "", c->title);
    html_element(out, "p", "class=\"value\"", value);
    html_element(out, "p", "class=\"limits\"", between);
    if (unknown)
        html_element(out, "p", "class=\"limits\"", unknown);
    if (c->network && isfinite(c->network->estimate)) {
        char *text = words_value(c->indicator, c->network->estimate),
             *line = g_strdup_printf("The network: %s", text);
        html_element(out, "p", "class=\"limits\"", line);
        g_free(line);
        g_free(text);
    }
    if (c->chart) {
        g_string_append(out, "<img alt=\"\" width=\"220\" height=\"56\" ");
        html_source(out, c->chart->svg, c->chart->svg_length);
        g_string_append(out, ">\n");
    }
    if (c->last && c->before) {
        char *then = quarter(c, c->before_name, c->before),
             *now = quarter(c, c->last_name, c->last), *between_them = change(c);
        g_string_append(out, "<p class=\"then\">");
        html_element(out, "span", "", then);
        html_element(out, "span", "", now);
        if (between_them)
            html_element(out, "span", "class=\"change\"", between_them);
        g_string_append(out, "</p>\n");
        g_free(then);
        g_free(now);
        g_free(between_them);
    }
    g_string_append(out, "</li>\n");
    g_free(value);
    g_free(between);
    g_free(unknown);
}

void card_html(GString *out, const Source *s, const GPtrArray *cards) {
    g_string_append(out, "<ul class=\"cards\">\n");
    for (guint i = 0; i < cards->len; i++)
        one_html(out, s, cards->pdata[i]);
    g_string_append(out, "</ul>\n");
}

void card_markdown(GString *out, const Source *s, const GPtrArray *cards) {
    for (guint i = 0; i < cards->len; i++) {
        const Card *c = cards->pdata[i];
        char *value = words_estimate(s->e, c->all), *unknown = words_unknown(s->e, c->all);
        g_string_append_printf(out, "- %s: %s%s%s", c->title, value, unknown ? ", " : "",
                               unknown ? unknown : "");
        g_free(unknown);
        g_free(value);
        if (c->last && c->before) {
            char *then = quarter(c, c->before_name, c->before),
                 *now = quarter(c, c->last_name, c->last), *between = change(c);
            g_string_append_printf(out, "; %s, %s%s%s", then, now, between ? ", " : "",
                                   between ? between : "");
            g_free(then);
            g_free(now);
            g_free(between);
        }
        g_string_append_c(out, '\n');
    }
    g_string_append_c(out, '\n');
}
