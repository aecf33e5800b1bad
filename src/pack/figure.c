// SPDX-License-Identifier: GPL-3.0-or-later
// An exhibit in a page.
#include "pack/figure.h"

#include "pack/html.h"

enum { LONG = 100, TALL = 16 };                 // cells and rows of a table
enum { BESIDE_COLUMNS = 6, BESIDE_WIDTH = 52 }; // of a table that fits beside its chart in print

// On small screens, where the chart's own titles do not fit and are cut off.
static void head(GString *out, const Chart *c) {
    g_string_append(out, "<p class=\"head\">");
    g_string_append(out, "<strong>");
    html_prose(out, c->title);
    g_string_append(out, "</strong>");
    html_prose(out, c->subtitle);
    g_string_append(out, "</p>\n");
}

static void image(GString *out, const Chart *c) {
    g_string_append(out, "<div class=\"scroll chart\" role=\"region\" tabindex=\"0\" "
                         "aria-label=\"Chart: ");
    html_escape(out, c->title);
    g_string_append_printf(
        out, "\"><img width=\"%d\" height=\"%d\" style=\"--width:%dpx;--titles:%dpx\" alt=\"",
        c->width, c->height, c->width, c->titles);
    html_escape(out, c->finding);
    g_string_append(out, "\" ");
    html_source(out, c->svg, c->svg_length);
    g_string_append(out, "></div>\n");
}

// How chart and table share a printed page: `wide` over its whole width; `beside` each other where
// the table is narrow; `alone`, the chart without the table, where that is long and tells nothing
// that stands nowhere else; else one under the other.
static const char *placed(const Exhibit *x) {
    if (!x->chart)
        return " class=\"plain\"";
    if (x->chart->width == CHART_WIDE)
        return x->chart->told ? " class=\"wide alone\"" : " class=\"wide\"";
    if (!x->sheet)
        return "";
    const guint rows = sheet_rows(x->sheet), columns = x->sheet->columns->len;
    if (x->chart->told && (rows * columns > LONG || rows > TALL))
        return " class=\"alone\"";
    return columns <= BESIDE_COLUMNS && sheet_width(x->sheet) <= BESIDE_WIDTH ? " class=\"beside\""
                                                                              : "";
}

// What stands beside the chart, or under the table where that is all.
static void caption(GString *out, const Exhibit *x) {
    if (!x->note)
        return;
    g_string_append(out, "<figcaption>");
    html_prose(out, x->note);
    g_string_append(out, "</figcaption>\n");
}

void figure_html(GString *out, const Exhibit *exhibit) {
    g_string_append_printf(out, "<figure id=\"%s\"%s>\n", exhibit->kind->name, placed(exhibit));
    if (exhibit->chart) {
        head(out, exhibit->chart);
        image(out, exhibit->chart);
        caption(out, exhibit);
        if (exhibit->sheet) {
            g_string_append(out, "<details><summary>The numbers</summary>\n");
            sheet_html(out, exhibit->sheet);
            g_string_append(out, "</details>\n");
        }
    } else {
        sheet_html(out, exhibit->sheet);
        caption(out, exhibit);
    }
    g_string_append(out, "</figure>\n");
}
