// SPDX-License-Identifier: GPL-3.0-or-later
// Pages of single units.
#include "pack/unit.h"

#include "measure/crosstab.h"
#include "pack/card.h"
#include "pack/findingkinds.h"
#include "pack/html.h"
#include "pack/page.h"
#include "pack/theme.h"

#include <math.h>
#include <string.h>

#define WELL_KNOWN 0.9 // a field known in fewer of a unit's records could be logged better

// ---- the quality of its data ----

static double known(const Crosstab *asked, const Crosstab *seen, unsigned unit, FieldId f) {
    const double n = (double)crosstab_at(asked, unit, f);
    return n > 0 ? (double)crosstab_at(seen, unit, f) / n : NAN;
}

static Sheet *weak_fields(const Source *s) {
    const Crosstab *asked = s->counts->asked, *seen = s->counts->known;
    Sheet *sheet = sheet_new("Fields that this unit knows in fewer than nine of ten records");
    sheet_column(sheet, "Field", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Known here", SHEET_NUMBER, WORDS_PERCENT);
    sheet_column(sheet, "In the network", SHEET_NUMBER, WORDS_PERCENT);
    sheet_column(sheet, "What it is", SHEET_TEXT, WORDS_COUNT);
    for (FieldId f = 0; f < FIELD_STORED; f++) {
        const double here = known(asked, seen, s->focus, f), all = known(asked, seen, 0, f);
        if (!(here < WELL_KNOWN) || !(all > 0) || f == FIELD_transfer_date)
            continue;
        char *name = words_field(f);
        sheet_text(sheet, name);
        g_free(name);
        sheet_number(sheet, here);
        sheet_number(sheet, all);
        sheet_text(sheet, field_table[f].description);
    }
    return sheet;
}

static void quality(GString *out, const Report *r) {
    report_theme(out, r, THEME_QUALITY);
    Sheet *found = findingkinds_sheet(r->s->kinds, r->s->focus), *weak = weak_fields(r->s);
    if (found)
        sheet_html(out, found);
    sheet_free(found);
    g_string_append(out, "<h3>What could be logged better</h3>\n");
    if (sheet_rows(weak) > 0)
        sheet_html(out, weak);
    else
        html_element(out, "p", "",
                     "Every field that the network logs is known in nine of ten records or more.");
    sheet_free(weak);
    g_string_append(out, "</section>\n");
}

GString *unit_html(const Report *r) {
    const Source *s = r->s;
    const char *name = words_unit_name(s->e, s->network, s->focus);
    char *span = page_span(s),
         *line = g_strdup_printf(
             "Critical-care transfers sent, %s.%s", span,
             words_single(s->e) ? "" : " Other units stand unnamed beside this one.");
    GString *out = page_begin(s, name, name, line);
    g_string_append(out, "<main id=\"main\">\n");
    page_section(out, "glance", "At a glance");
    card_html(out, s, r->cards);
    report_signals(out, s);
    g_string_append(out, "</section>\n");
    for (Theme t = 0; t < THEME_WHAT_IF; t++)
        report_theme(out, r, t);
    quality(out, r);
    g_string_append(out, "</main>\n");
    page_end(out, s);
    g_free(line);
    g_free(span);
    return out;
}
