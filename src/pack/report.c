// SPDX-License-Identifier: GPL-3.0-or-later
// The report: the account of rows, network figures with limits, the same by unit, cautions.
#include "pack/report.h"

#include "base/embed.h"
#include "pack/figure.h"
#include "pack/html.h"

#include <math.h>

static void figure(GString *out, double value, const char *unit) {
    const bool percent = *unit == '%';
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    if (!isfinite(value)) {
        g_string_append(out, "–");
        return;
    }
    value *= percent ? 100 : 1;
    g_string_append(out,
                    g_ascii_formatd(text, sizeof text, fabs(value) < 10 ? "%.1f" : "%.0f", value));
}

static const char *unit_of(const Indicator *i) {
    switch (i->measure) {
    case MEASURE_SHARE:
    case MEASURE_MIX:
    case MEASURE_OVERLAP:
        return "%";
    case MEASURE_QUANTILE:
        return "min";
    case MEASURE_HOURS:
        return "h";
    case MEASURE_COUNT:
        return "";
    case MEASURE_RATE:
        break;
    }
    return i->scale;
}

// "12 % (9 to 16)"
static void interval(GString *out, const Indicator *i, const Estimate *r) {
    const char *unit = unit_of(i);
    if (!isfinite(r->estimate)) {
        g_string_append(out, "not estimable");
        return;
    }
    figure(out, r->estimate, unit);
    g_string_append_printf(out, " %s (", unit);
    figure(out, r->lower, unit);
    g_string_append(out, " to ");
    figure(out, r->upper, unit);
    g_string_append_c(out, ')');
}

static bool is_headline(const Estimates *e, const Estimate *r) {
    const Indicator *i = e->catalogue->pdata[r->indicator];
    return r->by == FIELD_COUNT && r->period == 0 &&
           (i->measure != MEASURE_QUANTILE || r->quantile == 1 || r->quantile == 3);
}

static void row(GString *out, const Estimates *e, const Estimate *r, const char *head) {
    const Indicator *i = e->catalogue->pdata[r->indicator];
    g_string_append(out, "<tr><th scope=\"row\">");
    html_escape(out, head);
    g_string_append(out, "</th><td>");
    interval(out, i, r);
    g_string_append(out, "</td><td>");
    if (isfinite(r->total))
        figure(out, r->total, "");
    g_string_append_printf(out, "</td><td>%" G_GUINT64_FORMAT "</td></tr>\n", r->unknown);
}

static void table_head(GString *out, const char *caption, const char *first) {
    g_string_append(out, "<table><caption>");
    html_escape(out, caption);
    g_string_append_printf(
        out,
        "</caption><thead><tr><th scope=\"col\">%s</th><th scope=\"col\">Estimate and limits</th>"
        "<th scope=\"col\">Of</th><th scope=\"col\">Unknown</th></tr></thead><tbody>\n",
        first);
}

static void network_table(GString *out, const Estimates *e) {
    table_head(out, "The network over the whole period", "Indicator");
    for (guint k = 0; k < e->rows->len; k++) {
        const Estimate *r = &g_array_index(e->rows, Estimate, k);
        if (r->unit != 0 || !is_headline(e, r))
            continue;
        const Indicator *i = e->catalogue->pdata[r->indicator];
        char *group = estimate_group(e, r);
        char *head = g_strdup_printf("%s%s%s", i->title,
                                     i->measure == MEASURE_MIX        ? ": "
                                     : i->measure == MEASURE_QUANTILE ? ", "
                                                                      : "",
                                     i->measure == MEASURE_MIX        ? group
                                     : i->measure == MEASURE_QUANTILE ? estimate_measure(e, r)
                                                                      : "");
        row(out, e, r, head);
        g_free(head);
        g_free(group);
    }
    g_string_append(out, "</tbody></table>\n");
}

static void unit_tables(GString *out, const Estimates *e) {
    int open = -1;
    for (guint k = 0; k < e->rows->len; k++) {
        const Estimate *r = &g_array_index(e->rows, Estimate, k);
        const Indicator *i = e->catalogue->pdata[r->indicator];
        if (r->unit == 0 || !is_headline(e, r) || i->measure == MEASURE_MIX || r->quantile == 3)
            continue;
        if (open != r->indicator) {
            if (open >= 0)
                g_string_append(out, "</tbody></table>\n");
            table_head(out, i->title, "Sending unit");
            open = r->indicator;
        }
        row(out, e, r, e->t->units->pdata[r->unit]);
    }
    if (open >= 0)
        g_string_append(out, "</tbody></table>\n");
}

static void account_table(GString *out, const Account *a) {
    g_string_append_printf(out,
                           "<table><caption>Account of rows</caption><thead><tr><th "
                           "scope=\"col\">Read</th><th scope=\"col\">Used</th>"
                           "<th scope=\"col\">Put aside</th><th scope=\"col\">Repeated</th><th "
                           "scope=\"col\">Merged</th><th scope=\"col\">Left "
                           "out</th></tr></thead><tbody><tr><td>%" G_GUINT64_FORMAT
                           "</td><td>%" G_GUINT64_FORMAT "</td><td>%" G_GUINT64_FORMAT
                           "</td><td>%" G_GUINT64_FORMAT "</td><td>%" G_GUINT64_FORMAT
                           "</td><td>%" G_GUINT64_FORMAT "</td></tr></tbody></table>\n",
                           a->read, a->used, a->put_aside, a->repeated, a->merged, a->left_out);
}

static const char cautions[] = "<ul><li>Not for clinical decisions, for triage, or for judging one "
                               "patient or one clinician; local codes and licensed "
                               "practice decide.</li><li>A unit that differs is a reason to look, "
                               "first at the data and the case-mix; it is no "
                               "verdict.</li><li>Small numbers: read the limits. No events seen is "
                               "not no risk.</li><li>Unknown is not no: the unknown "
                               "stand beside each figure.</li><li>Rates reflect recording; more "
                               "reports can mean better reporting.</li><li>Not adjusted for "
                               "case-mix, and definitions differ from other networks: do not "
                               "compare across.</li><li>Clocks disagree: differences of "
                               "minutes are no findings. Faster is not safer.</li></ul>\n";

GString *report_html(const Source *source, const GPtrArray *exhibits) {
    const Estimates *e = source->e;
    GString *out = g_string_new(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
        "content=\"width=device-width, initial-scale=1\"><meta "
        "http-equiv=\"Content-Security-Policy\" content=\"default-src "
        "'none'; img-src data:; style-src 'unsafe-inline'\"><title>Transfer "
        "audit</title><style>\n");
    const char *style = embed_text("report.css");
    g_string_append(out, style ? style : "");
    g_string_append(out, "</style></head><body><header><p class=\"network\">");
    html_escape(out, source->network->name);
    g_string_append(out, "</p><h1>Critical-care transfers: the "
                         "audit</h1></header><main>\n<section><h2>What was read</h2>\n");
    account_table(out, source->account);
    g_string_append(out, "</section>\n<section><h2>Key figures</h2>\n");
    network_table(out, e);
    g_string_append(out, "</section>\n<section><h2>Charts</h2>\n");
    for (guint i = 0; i < exhibits->len; i++)
        figure_html(out, exhibits->pdata[i]);
    g_string_append(out, "</section>\n<section><h2>By sending unit</h2>\n<p>Units stand in the "
                         "order of their codes, which is no "
                         "ranking.</p>\n");
    unit_tables(out, e);
    g_string_append(out, "</section>\n<section><h2>Cautions</h2>\n");
    g_string_append(out, cautions);
    g_string_append(out, "</section></main></body></html>\n");
    return out;
}
