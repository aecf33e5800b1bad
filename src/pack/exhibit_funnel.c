// SPDX-License-Identifier: GPL-3.0-or-later
// Funnels: value by size, limits about the network's value, units outside named.
#include "pack/exhibit_funnel.h"

#include "measure/plainly.h"
#include "pack/bands.h"

#include <math.h>
#include <string.h>

typedef struct {
    const Source *s;
    const Funnel *funnel;
    const GArray *bands; // of it
    const Indicator *indicator;
    WordsUnit unit;
} View;

static const Comparison *row_of(const View *v, guint k) {
    return &g_array_index(v->s->comparisons->rows, Comparison, v->funnel->first + k);
}

static bool adjusted(const View *v) {
    return v->funnel->kind == COMPARE_ADJUSTED;
}

static double size_of(const View *v, const Comparison *c) {
    return bands_size(v->funnel, c);
}

static bool is_marked(const View *v, const Comparison *c) {
    return v->s->focus ? c->unit == v->s->focus : c->flagged;
}

static bool medians(const View *v) {
    return v->indicator->measure == MEASURE_QUANTILE;
}

static char *value_text(const View *v, double value) {
    return adjusted(v) ? words_figure(WORDS_RATE, value, 2) : words_value(v->indicator, value);
}

static char *name_of(const View *v, const Comparison *c) {
    return g_strdup(v->s->focus && c->unit != v->s->focus
                        ? "another unit"
                        : words_unit_name(v->s->e, v->s->network, c->unit));
}

// ---- table ----

static char *small_p(double p) {
    return !isfinite(p) ? g_strdup("")
           : p < 0.001  ? g_strdup("< 0.001")
                        : words_figure(WORDS_RATE, p, 3);
}

// What speaks of the unit's own: how far a median lies from the rest's, else what small numbers
// leave of the value, and how much of that is the unit's.
static void own_columns(Sheet *s, const View *v, const Comparison *c) {
    if (medians(v)) {
        sheet_interval(s, c->effect.estimate, c->effect.lower, c->effect.upper);
        return;
    }
    sheet_number(s, c->events);
    if (adjusted(v))
        sheet_number(s, c->expected);
    char *shrunk = isfinite(c->shrunk) ? value_text(v, c->shrunk) : g_strdup(""),
         *weight =
             isfinite(c->own_weight) ? words_figure(WORDS_PERCENT, c->own_weight, 0) : g_strdup("");
    sheet_text(s, shrunk);
    sheet_text(s, weight);
    g_free(shrunk);
    g_free(weight);
}

static void table_row(Sheet *s, const View *v, const Comparison *c) {
    char *name = name_of(v, c), *robust = compare_robust(c->robust, c->rests_on),
         *ranks =
             c->rank_low ? g_strdup_printf("%u to %u", c->rank_low, c->rank_high) : g_strdup(""),
         *q = small_p(c->q);
    sheet_text(s, name);
    sheet_interval(s, c->value.estimate, c->value.lower, c->value.upper);
    own_columns(s, v, c);
    sheet_number(s, c->total);
    sheet_number(s, c->unknown);
    sheet_text(s, ranks);
    sheet_text(s, q);
    char *differs = !c->flagged ? g_strdup("")
                    : !*robust  ? g_strdup("yes")
                    : c->robust == COMPARE_ROBUST
                        ? g_strdup("yes, even if all unknown spoke against it")
                        : g_strconcat("yes, but ", robust, NULL);
    sheet_text(s, differs);
    g_free(differs);
    g_free(name);
    g_free(robust);
    g_free(ranks);
    g_free(q);
}

static char *alike_text(const View *v) {
    if (!medians(v) || !isfinite(v->funnel->alike.p))
        return g_strdup("");
    char *p = small_p(v->funnel->alike.p),
         *text =
             g_strdup_printf(". All units alike, urgencies together (Kruskal and Wallis): p %s%s",
                             *p == '<' ? "" : "= ", p);
    g_free(p);
    return text;
}

// Who is judged, where not all are: behind `before`, and with `after` behind it; else "".
static char *judged(const View *v, const char *before, const char *after) {
    char *of = plainly_judged(v->indicator->compare), *text = g_strdup("");
    if (*of) {
        const bool only = *of == ',';
        g_free(text);
        text = g_strconcat(before, only ? "" : "transfers", of + (only ? strlen(", ") : 0), after,
                           NULL);
    }
    g_free(of);
    return text;
}

static Sheet *table(const View *v) {
    char *of = judged(v, ", ", "");
    char *alike = alike_text(v);
    char *caption = g_strdup_printf(
        "%s%s%s: units against the network%s. Differs: q of at most 0.05, the shares of "
        "false alarms being held over all comparisons of this report%s",
        v->indicator->title, of, adjusted(v) ? ", adjusted for case-mix" : "",
        medians(v) ? ", urgency for urgency" : "", alike);
    g_free(alike);
    g_free(of);
    Sheet *s = sheet_new(caption);
    g_free(caption);
    sheet_column(s, "Sending unit", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, adjusted(v) ? "Observed / expected" : v->indicator->title, SHEET_INTERVAL,
                 adjusted(v) ? WORDS_RATE : v->unit);
    if (medians(v)) {
        sheet_column(s, "More than the rest, urgency for urgency (Hodges-Lehmann)", SHEET_INTERVAL,
                     WORDS_MINUTES);
    } else {
        sheet_column(s, "Events", SHEET_NUMBER, WORDS_COUNT);
        if (adjusted(v))
            sheet_column(s, "Expected", SHEET_NUMBER, WORDS_RATE);
        sheet_column(s, "Shrunken", SHEET_TEXT, WORDS_COUNT);
        sheet_column(s, "Own weight", SHEET_TEXT, WORDS_COUNT);
    }
    sheet_column(s, "Of", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(s, "Unknown", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(s, "Rank between", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, "q", SHEET_TEXT, WORDS_COUNT);
    sheet_column(s, "Differs", SHEET_TEXT, WORDS_COUNT);
    for (guint k = 0; k < v->funnel->rows; k++)
        if (!v->s->focus || row_of(v, k)->unit == v->s->focus)
            table_row(s, v, row_of(v, k));
    return s;
}

// ---- chart ----

static char *title(const View *v) {
    char *centre = adjusted(v) || medians(v) ? g_strdup("") : value_text(v, v->funnel->centre);
    const char *net = adjusted(v)  ? "what was expected"
                      : medians(v) ? "the others, urgency for urgency"
                                   : "the network's ";
    const Comparison *only = NULL;
    guint marked = 0;
    for (guint k = 0; k < v->funnel->rows; k++) {
        const Comparison *c = row_of(v, k);
        if (c->flagged && (!v->s->focus || c->unit == v->s->focus)) {
            only = c;
            marked++;
        }
    }
    GString *text = g_string_new(v->indicator->title);
    if (adjusted(v))
        g_string_append(text, ", adjusted for case-mix");
    if (marked == 1) {
        char *name = name_of(v, only), *value = value_text(v, only->value.estimate);
        g_string_append_printf(text, ": %s, at %s, differs from %s%s", name, value, net, centre);
        g_free(name);
        g_free(value);
    } else if (marked > 1)
        g_string_append_printf(text, ": %u of %u units differ from %s%s", marked, v->funnel->units,
                               net, centre);
    else
        g_string_append_printf(text, ": %s differs from %s%s",
                               v->s->focus ? "no sign that this unit" : "no unit", net, centre);
    g_free(centre);
    return g_string_free(text, FALSE);
}

// Names the limits where they end; the three names there keep clear of each other.
static void name_limits(Chart *c, const View *v, const Band *b, double top) {
    ChartPlace place = {
        .x = c->width - c->right + 8, .x_px = true, .align = "left", .colour = "grey", .size = 12};
    const double apart = top * 15 / c->tall,
                 low = fmax(fmin(b->narrow.upper, top), v->funnel->centre + apart);
    place.y = low;
    chart_label(c, &place, "95 % limit");
    place.y = fmax(fmin(b->wide.upper, top), low + apart);
    chart_label(c, &place, "99.8 % limit");
}

static void draw_bands(Chart *c, const View *v, double top) {
    for (guint k = 0; k < v->bands->len; k++) {
        const Band *b = &g_array_index(v->bands, Band, k);
        const double row[] = {b->size, fmin(b->wide.lower, top), fmin(b->wide.upper, top),
                              fmin(b->narrow.lower, top), fmin(b->narrow.upper, top)};
        if (!isfinite(b->wide.upper) || !isfinite(b->narrow.upper))
            continue;
        chart_row(c, 5, row);
        if (k == v->bands->len - 1)
            name_limits(c, v, b, top);
    }
    chart_row(c, 0, NULL);
    chart_row(c, 0, NULL);
}

// Where marks lie, px from the plotting area's left and upper edges.
typedef struct {
    double largest, top; // ends of the axes
} Scales;

static double px_right(const Chart *c, const Scales *to, const View *v, const Comparison *u) {
    return size_of(v, u) / to->largest * (c->width - c->left - c->right);
}

static double px_down(const Chart *c, const Scales *to, const Comparison *u) {
    return (1 - u->value.estimate / to->top) * c->tall;
}

// Marks that a name would cover, its left end and middle at (x, y).
static guint covered(const Chart *c, const Scales *to, const View *v, double x, double y,
                     double wide) {
    guint n = 0;
    for (guint k = 0; k < v->funnel->rows; k++) {
        const double at = px_right(c, to, v, row_of(v, k)), down = px_down(c, to, row_of(v, k));
        n += at > x - 7 && at < x + wide + 7 && fabs(down - y) < 15;
    }
    const double edge = c->width - c->left - c->right;
    n += x + wide > edge + 4 ? 3 : 0; // the limits have their names there
    return n + (x < 0 || x + wide > edge + 40 || y < 0 || y > c->tall ? 100 : 0);
}

// Names a unit at the side of its mark where the name covers the fewest others.
static void name_unit(Chart *c, const Scales *to, const View *v, const Comparison *u) {
    char *name = name_of(v, u), *cut = chart_fit(name, 13, 170);
    const double wide = chart_text_width(cut, 13), x = px_right(c, to, v, u), y = px_down(c, to, u);
    const double sides[][2] = {
        {x + 13, y},     {x - 13 - wide, y}, {x - wide / 2, y - 19}, {x - wide / 2, y + 19},
        {x + 4, y - 19}, {x + 4, y + 19},    {x - wide - 4, y - 19}, {x - wide - 4, y + 19}};
    guint best = 0;
    for (guint k = 1; k < G_N_ELEMENTS(sides); k++)
        if (covered(c, to, v, sides[k][0], sides[k][1], wide) <
            covered(c, to, v, sides[best][0], sides[best][1], wide))
            best = k;
    const ChartPlace place = {.x = c->left + sides[best][0],
                              .y = c->top + sides[best][1],
                              .x_px = true,
                              .y_px = true,
                              .align = "left",
                              .colour = "ink",
                              .bold = true};
    chart_label(c, &place, cut);
    g_free(name);
    g_free(cut);
}

static void draw_units(Chart *c, const Scales *to, const View *v) {
    for (guint k = 0; k < v->funnel->rows; k++) {
        const Comparison *u = row_of(v, k);
        const bool marked = is_marked(v, u);
        const double value = u->value.estimate,
                     row[] = {size_of(v, u), value, chart_where(!marked, value),
                              chart_where(marked, value)};
        if (!isfinite(row[0]) || !isfinite(row[1]))
            continue;
        chart_row(c, G_N_ELEMENTS(row), row);
        if (!marked)
            continue;
        name_unit(c, to, v, u);
    }
}

// Returns where they end.
static Scales axes(Chart *c, const View *v, double largest, double highest) {
    const bool percent = !adjusted(v) && v->unit == WORDS_PERCENT;
    const double top = chart_steps(c, 'y', percent ? fmin(highest, 1) : highest, 6,
                                   percent ? 100 : 1, percent ? " %" : "");
    chart_range(c, 'y', 0, top);
    chart_steps(c, 'x', largest, chart_room(c), 1, "");
    chart_range(c, 'x', 0, largest);
    chart_plain_axis(c, 'x'); // no rules along sizes
    draw_bands(c, v, top);
    chart_axis_name(c, adjusted(v)             ? "Events expected from the case-mix"
                       : v->unit == WORDS_RATE ? "Exposure"
                                               : "Transfers of which it is known");
    return (Scales){largest, top};
}

static char *how_to_read(const View *v) {
    char *of = judged(v, " Judged: ", "."),
         *text = g_strconcat(v->s->focus
                                 ? "Diamond: this unit. Shaded: what chance and usual spread "
                                   "explain."
                                 : "One mark is one unit; diamond: differs. Shaded: what chance "
                                   "and the usual spread between units explain.",
                             of, NULL);
    g_free(of);
    return text;
}

static Chart *draw(const View *v) {
    const ChartFrame frame = {exhibit_width(v->s), 46, 92, 10, 46, v->s->focus ? 105 : 190};
    char *head = title(v), *how = how_to_read(v);
    Chart *c = chart_new("funnel.gp", head, how, &frame);
    g_free(how);
    double highest = v->funnel->centre * 1.6;
    for (guint k = 0; k < v->funnel->rows; k++)
        highest = fmax(highest, row_of(v, k)->value.estimate);
    const Scales to = axes(c, v, bands_largest(v->s->comparisons, v->funnel), highest);
    draw_units(c, &to, v);
    chart_set(c, "centre", v->funnel->centre);
    char *figure = value_text(v, v->funnel->centre),
         *text = adjusted(v) ? g_strdup("as expected") : g_strdup_printf("network %s", figure);
    const ChartPlace at_end = {.x = c->width - c->right + 8,
                               .x_px = true,
                               .y = v->funnel->centre,
                               .align = "left",
                               .colour = "ink",
                               .size = 12};
    chart_label(c, &at_end, v->unit == WORDS_RATE && !adjusted(v) ? "network" : text);
    c->told = true; // comparisons.csv
    c->finding = g_strdup_printf("Funnel. %s.", head);
    g_free(text);
    g_free(figure);
    g_free(head);
    return c;
}

// What the units' values rest on: of the unit in focus its own, else the sum.
static char *note(const View *v) {
    double n = 0, unknown = 0;
    for (guint k = 0; k < v->funnel->rows; k++) {
        const Comparison *c = row_of(v, k);
        n += v->s->focus && c->unit != v->s->focus ? 0 : c->total;
        unknown += v->s->focus && c->unit != v->s->focus ? 0 : (double)c->unknown;
    }
    char *rests = exhibit_rests(n, unknown, "transfer"), *text = g_strconcat(rests, ".", NULL);
    g_free(rests);
    return text;
}

static Exhibit *make(const Source *s, const ExhibitKind *kind, CompareKind wanted) {
    for (guint f = 0; s->comparisons && f < s->comparisons->funnels->len; f++) {
        const Funnel *funnel = &g_array_index(s->comparisons->funnels, Funnel, f);
        const Indicator *i = s->comparisons->catalogue->pdata[funnel->indicator];
        if (funnel->kind != wanted || strcmp(i->name, kind->indicator) != 0 || funnel->units < 2)
            continue;
        const View v = {s, funnel, s->bands->pdata[f], i, words_unit(i)};
        const bool chart = s->charts && i->measure != MEASURE_QUANTILE &&
                           isfinite(funnel->centre) && funnel->centre > 0;
        Exhibit *x = exhibit_new(kind, chart ? draw(&v) : NULL, table(&v));
        x->note = note(&v);
        return x;
    }
    return NULL;
}

Exhibit *exhibit_funnel_crude(const Source *s, const ExhibitKind *kind) {
    return make(s, kind, COMPARE_CRUDE);
}

Exhibit *exhibit_funnel_adjusted(const Source *s, const ExhibitKind *kind) {
    return make(s, kind, COMPARE_ADJUSTED);
}
