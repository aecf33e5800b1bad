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

#define LONGEST_SLUG 40
#define WELL_KNOWN 0.9 // a field known in fewer of a unit's records could be logged better

// ---- file names ----

static char *slug_of(const char *code) {
    static const char *const reserved[] = {"con", "prn", "aux", "nul"};
    GString *slug = g_string_new(NULL);
    for (const char *p = code; *p && slug->len < LONGEST_SLUG - 5; p++) {
        const char c = g_ascii_tolower(*p);
        if (g_ascii_isalnum(c))
            g_string_append_c(slug, c);
        else if (slug->len > 0 && slug->str[slug->len - 1] != '-')
            g_string_append_c(slug, '-');
    }
    while (slug->len > 0 && slug->str[slug->len - 1] == '-')
        g_string_truncate(slug, slug->len - 1);
    bool refused = slug->len == 0 ||
                   (slug->len == 4 && g_ascii_isdigit(slug->str[3]) &&
                    (g_str_has_prefix(slug->str, "com") || g_str_has_prefix(slug->str, "lpt")));
    for (unsigned i = 0; i < G_N_ELEMENTS(reserved); i++)
        refused = refused || strcmp(slug->str, reserved[i]) == 0;
    if (refused)
        g_string_prepend(slug, slug->len ? "unit-" : "unit");
    return g_string_free(slug, FALSE);
}

GPtrArray *unit_slugs(const Source *s) {
    GPtrArray *slugs = g_ptr_array_new_with_free_func(g_free);
    GHashTable *taken = g_hash_table_new(g_str_hash, g_str_equal); // of slugs' own strings
    for (guint u = 1; u < s->e->units->len; u++) {
        char *slug = slug_of(s->e->t->units->pdata[g_array_index(s->e->units, uint16_t, u)]);
        for (guint n = 2; g_hash_table_contains(taken, slug); n++) {
            char *base = slug_of(s->e->t->units->pdata[g_array_index(s->e->units, uint16_t, u)]);
            g_free(slug);
            slug = g_strdup_printf("%s-%u", base, n);
            g_free(base);
        }
        g_ptr_array_add(slugs, slug);
        g_hash_table_add(taken, slug);
    }
    g_hash_table_unref(taken);
    return slugs;
}

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

void unit_links(GString *out, const Source *s) {
    GPtrArray *slugs = unit_slugs(s);
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
