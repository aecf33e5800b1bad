// SPDX-License-Identifier: GPL-3.0-or-later
// Words and plain tables of a report.
#include "pack/prose.h"

#include "base/percent.h"
#include "base/version.h"
#include "measure/plainly.h"
#include "pack/html.h"
#include "pack/page.h"

#include <math.h>
#include <string.h>

Sheet *prose_account(const Source *s) {
    const Account *a = s->account;
    const struct {
        const char *name, *meaning;
        uint64_t n;
    } rows[] = {
        {"Read", "records in the logs, headings and blank lines apart", a->read},
        {"Used", "counted in this report", a->used},
        {"Put aside", "not usable; word for word in put-aside.csv", a->put_aside},
        {"Repeated", "the same record again", a->repeated},
        {"Merged", "the other end's record of a transfer that is used", a->merged},
        {"Left out", "outside the network's terms or after the span asked for", a->left_out},
    };
    Sheet *sheet = sheet_new("Account of rows: what was read is the sum of the rest");
    sheet_column(sheet, "Rows", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Number", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "What they are", SHEET_TEXT, WORDS_COUNT);
    for (unsigned i = 0; i < G_N_ELEMENTS(rows); i++) {
        sheet_text(sheet, rows[i].name);
        sheet_number(sheet, (double)rows[i].n);
        sheet_text(sheet, rows[i].meaning);
    }
    return sheet;
}

const char *const prose_caution_texts[] = {
    "Not for clinical decisions, for triage, or for judging one patient or one clinician; local "
    "codes and licensed practice decide.",
    "A unit that differs is a reason to look, first at the data and the case-mix; it is no "
    "verdict.",
    "Small numbers: read the limits. No events seen is not no risk.",
    "What stands out is in part luck: the next period is likely to lie nearer to the rest even if "
    "nothing "
    "is done, so that alone shows no success.",
    "No cell is suppressed: small counts stand as they are, and who knows of a transfer may "
    "recognise it in them. Think of that before the report leaves the network.",
    "Unknown is not no: the number of unknown stands beside each figure.",
    "Rates reflect recording; more reports can mean better reporting.",
    "Figures that are not called adjusted are not adjusted for case-mix. Definitions differ from "
    "other networks': do not compare across.",
    "Clocks disagree: differences of minutes are no findings. Faster is not safer.",
    NULL};

void prose_cautions(GString *out) {
    page_section(out, "cautions", "Cautions");
    g_string_append(out, "<ul>\n");
    for (const char *const *text = prose_caution_texts; *text; text++)
        html_element(out, "li", "", *text);
    g_string_append(out, "</ul>\n</section>\n");
}

static const char *const methods[][2] = {
    {"Share", "Events among the transfers of which it is known whether they count. Limits: "
              "Wilson's score interval."},
    {"Rate", "Events for so much exposure: 100 transfers, 1,000 hours, a week. Limits: Fay and "
             "Feuer's gamma limits, since events come in clusters; exact Poisson limits where "
             "transfers are counted."},
    {"Waiting times", "The time within which a quarter, half, three quarters and nine in ten were "
                      "done. Limits: order statistics, free of any assumed distribution."},
    {"Mix", "Parts of a whole. Limits: Goodman's, which hold for all parts at once."},
    {"Hours", "Sum of the absences. Limits: Fay and Feuer's."},
    {"Overlap", "Of the time with a team of the unit away, the part with two or more away. Limits: "
                "from the spread between stretches of weeks."},
    {"Units against the network",
     "Centre: the pooled value, the unit included. p: twice the smaller exact tail, and not less "
     "than "
     "the normal one that allows for the usual spread between units (tau-squared, added to the "
     "variance of chance at the centre); limits are the wider of both. tau-squared is that of the "
     "other units which belong together: found by a forward search from their inner four fifths, "
     "estimated after Paule and Mandel, drawn towards what is typical of the report. The band "
     "drawn is "
     "that of the units not flagged. Waiting times: the unit's patients against the rest's of the "
     "same urgency (unknown urgency being one, too) by van Elteren's stratified rank test, since "
     "who moves more time-critical patients would else look quick; the spread between the units' "
     "mean ranks within urgency is allowed for likewise. Medians, the difference (Hodges and "
     "Lehmann) and the test of all units (Kruskal and Wallis) are of all patients, whatever their "
     "urgency. "
     "Shrunken: drawn towards the network's value by empirical Bayes, the more so the fewer the "
     "unit's "
     "records; own weight is what its own count for. Ranks: from intervals that hold for all units "
     "at once (Sidak; of shares Clopper and Pearson's)."},
    {"Case-mix",
     "Logistic regression over the network, without the unit, on the patients' condition and "
     "what was needed, nothing that comes after the outcome; Firth's fit where it is "
     "separated. Observed over expected events, p from the exact sum of the fitted risks. "
     "casemix.csv holds odds ratios and c-statistic, calibration.csv expected and observed events "
     "by tenth of risk."},
    {"Change",
     "Control charts with exact limits for small counts, else widened by the spread between "
     "periods; a median beyond its limits counts only where the period's waits differ from all "
     "others' by rank, too, since few records make a median vary; run rules from ten points on; "
     "this quarter against the last and a year ago, this "
     "year against the last; "
     "trends with over-dispersion. Periods that the logs do not cover whole are left out of "
     "all of these, and marked: for a unit, where 1 in 10 days or more lie in stretches without a "
     "record of its own log that are too long for chance (1 in 100 such logs), whatever the other "
     "ends' logs tell of it; for the network, where that holds of all logs together, or 1 in 20 "
     "records "
     "lacks from the units' logs, each by the records that it sends. Waits are also looked at for "
     "the patients of each urgency."},
    {"Many looks",
     "Whoever looks often enough sees something. Of the signals, at most 1 in 20 is expected to be "
     "chance's work: all tests of units share one control of the false-discovery rate (Benjamini "
     "and Hochberg), all tests of change another; q is p after that, and at most 0.05 in a signal. "
     "A signal that stands in the worst case would still be one if all records that leave the "
     "matter open spoke against it, all other tests being as they are; else it rests on the number "
     "named."},
    {"Unknown",
     "Transfers for which the logs leave open whether they count. They are in neither "
     "part of a fraction; summary.csv also gives each share as it would be if none, and "
     "if all, of the unknown were events. A share that asks for several things at once is false "
     "as soon as one is, but true only where every one is known: blanks push it down."},
};

static Sheet *definitions(const Source *s) {
    static const char *const heads[] = {"Indicator", "Counts", "Among",
                                        "In",        "Note",   "As the catalogue has it"};
    Sheet *sheet = sheet_new("Definitions: each indicator, what counts, and among whom; a transfer "
                             "is a request that departed");
    for (unsigned i = 0; i < G_N_ELEMENTS(heads); i++)
        sheet_column(sheet, heads[i], SHEET_TEXT, WORDS_COUNT);
    for (guint i = 0; i < s->e->catalogue->len; i++) {
        const Indicator *x = s->e->catalogue->pdata[i];
        char *counts = plainly_counts(x), *among = plainly_among(x);
        char *terms = g_strdup_printf("%s: %s%s%s%s%s", x->name, x->events_text,
                                      *x->events_text ? ", among " : "", x->among_text,
                                      *x->compare ? "; units compared by " : "", x->compare);
        sheet_text(sheet, x->title);
        sheet_text(sheet, counts);
        sheet_text(sheet, among);
        sheet_text(sheet, x->scale);
        sheet_text(sheet, x->note);
        sheet_text(sheet, terms);
        g_free(counts);
        g_free(among);
        g_free(terms);
    }
    return sheet;
}

void prose_methods(GString *out, const Source *s) {
    page_section(out, "methods", "Methods");
    char *confidence = percent_exact(s->e->confidence, 4);
    char *text = g_strdup_printf(
        "Each figure stands with its interval at %s: with the method used, that share of such "
        "intervals holds the true value in the long run. A record belongs to the period of its "
        "request (else its date, else its departure) in local time, and to its sending unit.",
        confidence);
    g_free(confidence);
    html_element(out, "p", "", text);
    g_free(text);
    g_string_append(out, "<dl>\n");
    for (unsigned i = 0; i < G_N_ELEMENTS(methods); i++) {
        html_element(out, "dt", "", methods[i][0]);
        html_element(out, "dd", "", methods[i][1]);
    }
    g_string_append(out, "</dl>\n<details><summary>All definitions</summary>\n");
    Sheet *sheet = definitions(s);
    sheet_html(out, sheet);
    sheet_free(sheet);
    g_string_append(out, "</details>\n</section>\n");
}

void prose_reproduce(GString *out, const Source *s) {
    page_section(out, "reproduce", "How to reproduce this report");
    html_element(
        out, "p", "",
        "The same logs and settings give the same files, byte for byte, on any machine. "
        "manifest.json names version, settings and the checksum of each input; "
        "summary.csv holds every estimate; charts/ holds each chart with what redraws it.");
    html_element(out, "p", "",
                 "crossward audit LOG… --network DIR writes it anew, and crossward trace names the "
                 "records behind any one figure, with file and line.");
    Sheet *sheet = sheet_new("Inputs");
    sheet_column(sheet, "File", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Rows", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "SHA-256", SHEET_TEXT, WORDS_COUNT);
    for (guint i = 0; i < s->n_inputs; i++) {
        sheet_text(sheet, s->inputs[i].name);
        sheet_number(sheet, (double)s->inputs[i].rows);
        sheet_text(sheet, s->inputs[i].sha256);
    }
    sheet_html(out, sheet);
    sheet_free(sheet);
    html_element(out, "p", "", "Version: crossward " VERSION_TEXT ".");
    g_string_append(out, "</section>\n");
}
