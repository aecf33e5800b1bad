// SPDX-License-Identifier: GPL-3.0-or-later
// The two ends in words and tables.
#include "pack/exhibit_ends.h"

#include "base/percent.h"

#include <math.h>

static char *agreement_note(const Ends *e) {
    const uint64_t values[] = {e->joined, e->doubtful, e->logged_if_joined, e->logged};
    char *n[G_N_ELEMENTS(values)];
    for (unsigned i = 0; i < G_N_ELEMENTS(values); i++)
        n[i] = words_figure(WORDS_COUNT, (double)values[i], 0);
    GString *text = g_string_new(NULL);
    g_string_append_printf(text,
                           "Transfers joined from two rows each: %s. Kappa: 1 is perfect "
                           "agreement, 0 what chance alone would give. Age and leading problem "
                           "agree by the way that rows are joined, not as a finding.",
                           n[0]);
    if (e->doubtful > 0)
        g_string_append_printf(text,
                               " Pairs of rows that may be one transfer each but are not certain, "
                               "and so were not joined: %s. If they were, the number of transfers"
                               "%s would be %s instead of %s.",
                               n[1], e->left_out ? " in the logs, left out or not," : "", n[2],
                               n[3]);
    for (unsigned i = 0; i < G_N_ELEMENTS(values); i++)
        g_free(n[i]);
    return g_string_free(text, FALSE);
}

static void agreement_row(Sheet *sheet, const EndsField *f) {
    char *name = words_field(f->field);
    sheet_text(sheet, name);
    g_free(name);
    sheet_number(sheet, (double)f->both);
    sheet_number(sheet, f->agreement);
    char *text = isfinite(f->kappa.estimate)
                     ? g_strdup_printf("%.2f (%.2f to %.2f)", f->kappa.estimate, f->kappa.lower,
                                       f->kappa.upper)
                     : g_strdup("");
    sheet_text(sheet, text);
    g_free(text);
    if (field_table[f->field].kind == KIND_TIME)
        text = percent_text((double)f->near / (double)f->both, 0);
    else
        text = g_strdup("");
    sheet_text(sheet, text);
    g_free(text);
}

Exhibit *exhibit_ends_agreement(const Source *s, const ExhibitKind *kind) {
    if (!s->ends || s->ends->joined + s->ends->doubtful == 0)
        return NULL;
    Sheet *sheet = sheet_new("Transfers logged by both ends: how well the two logs agree");
    sheet_column(sheet, "Field", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Both ends know", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "Say the same", SHEET_NUMBER, WORDS_PERCENT);
    sheet_column(sheet, "Kappa", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Within 5 minutes", SHEET_TEXT, WORDS_COUNT);
    for (guint i = 0; i < s->ends->fields->len; i++)
        agreement_row(sheet, &g_array_index(s->ends->fields, EndsField, i));
    Exhibit *x = exhibit_new(kind, NULL, sheet);
    x->note = agreement_note(s->ends);
    return x;
}

static char *assumptions(void) {
    GString *text = g_string_new("Chapman's estimate takes for granted: ");
    for (const char *const *a = ends_assumptions; *a; a++)
        g_string_append_printf(text, "%s%s", a == ends_assumptions ? "" : " ", *a);
    return g_string_free(text, FALSE);
}

Exhibit *exhibit_ends_recorded(const Source *s, const ExhibitKind *kind) {
    if (!s->ends || s->ends->joined == 0)
        return NULL;
    Sheet *sheet = sheet_new("How many transfers there probably were, logged or not");
    sheet_column(sheet, "Sending unit", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "In the sender's log", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "In the receiver's", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "In both", SHEET_NUMBER, WORDS_COUNT);
    // without shared pseudonyms some pairs are missed, more than these limits allow for
    const bool shared = s->network->shared_ids;
    sheet_column(sheet, shared ? "Probably in all" : "In all, if no pair was missed",
                 SHEET_INTERVAL, WORDS_COUNT);
    sheet_column(sheet, shared ? "In any log" : "In any log, if so", SHEET_INTERVAL, WORDS_PERCENT);
    for (guint i = 0; i < s->ends->units->len; i++) {
        const EndsUnit *u = &g_array_index(s->ends->units, EndsUnit, i);
        if ((s->focus && u->unit && u->unit != s->focus) || (words_single(s->e) && !u->unit))
            continue;
        sheet_text(sheet, u->unit ? words_unit_name(s->e, s->network, u->unit) : "The network");
        sheet_number(sheet, (double)u->sender);
        sheet_number(sheet, (double)u->receiver);
        sheet_number(sheet, (double)u->both);
        sheet_interval(sheet, u->total.estimate, u->total.lower, u->total.upper);
        sheet_interval(sheet, u->recorded.estimate, u->recorded.lower, u->recorded.upper);
    }
    Exhibit *x = exhibit_new(kind, NULL, sheet);
    x->note = s->focus ? g_strdup("What the estimate takes for granted stands in the network's "
                                  "report.")
                       : assumptions();
    return x;
}
