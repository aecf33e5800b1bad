// SPDX-License-Identifier: GPL-3.0-or-later
// Words and plain tables of a report.
#include "pack/prose.h"

#include "base/percent.h"
#include "base/version.h"
#include "measure/plainly.h"
#include "pack/html.h"
#include "pack/page.h"
#include "pack/releasetext.h"

#include <math.h>
#include <string.h>

Sheet *prose_account(const Source *s) {
    static const char *const words[ACCOUNTED_COUNTS][2] = {
        {"Read", "records in the logs, headings and blank lines apart"},
        {"Used", "counted in this report"},
        {"Put aside", "not usable; word for word in put-aside.csv"},
        {"Repeated", "the same record again"},
        {"Merged", "the other end's record of a transfer that is used"},
        {"Left out", "outside the network's terms or after the span asked for"},
    };
    const Accounted a = accounted_of(s->account, s->e, s->hiding);
    Sheet *sheet = sheet_new("Account of rows: what was read is the sum of the rest");
    sheet_column(sheet, "Rows", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Number", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "What they are", SHEET_TEXT, WORDS_COUNT);
    for (int k = 0; k < ACCOUNTED_COUNTS; k++) {
        sheet_text(sheet, words[k][0]);
        if (a.hidden[k])
            sheet_text(sheet, prose_hidden);
        else
            sheet_number(sheet, (double)a.n[k]);
        sheet_text(sheet, s->hiding && k == ACCOUNTED_PUT_ASIDE ? "not usable" : words[k][1]);
    }
    return sheet;
}

const char *const prose_hidden = "hidden";

static const char all_shown[] =
    "No cell is suppressed: small counts stand as they are, and who knows of a transfer may "
    "recognise it in them. Think of that before the report leaves the network.";
static const char some_hidden[] = "Contains suppressed figures; do not try to recover them.";

static const char *const cautions[] = {
    "Not for clinical decisions, for triage, or for judging one patient or one clinician; local "
    "codes and licensed practice decide.",
    "A unit that differs is a reason to look, first at the data and the case-mix; it is no "
    "verdict.",
    "Small numbers: read the limits. No events seen is not no risk.",
    "What stands out is in part luck: the next period is likely to lie nearer to the rest even if "
    "nothing "
    "is done, so that alone shows no success.",
    all_shown,
    "Unknown is not no: the number of unknown stands beside each figure.",
    "Rates reflect recording; more reports can mean better reporting.",
    "Figures that are not called adjusted are not adjusted for case-mix. Definitions differ from "
    "other networks': do not compare across.",
    "Clocks disagree: differences of minutes are no findings. Faster is not safer."};

const char *prose_caution(const Source *s, guint k) {
    if (k >= G_N_ELEMENTS(cautions))
        return NULL;
    return s->hiding && cautions[k] == all_shown ? some_hidden : cautions[k];
}

void prose_cautions(GString *out, const Source *s) {
    page_section(out, "cautions", "Cautions");
    g_string_append(out, "<ul>\n");
    for (guint k = 0; prose_caution(s, k); k++)
        html_element(out, "li", "", prose_caution(s, k));
    g_string_append(out, "</ul>\n</section>\n");
}

static const struct {
    bool compares; // of figures that a release has not
    const char *name, *text;
} methods[] = {
    {false, "Share",
     "Events among the transfers of which it is known whether they count. Limits: "
     "Wilson's score interval."},
    {false, "Rate",
     "Events for so much exposure: 100 transfers, 1,000 hours, a week. Limits: Fay and "
     "Feuer's gamma limits, since events come in clusters; exact Poisson limits where "
     "transfers are counted."},
    {false, "Waiting times",
     "The time within which a quarter, half, three quarters and nine in ten were "
     "done. Limits: order statistics, free of any assumed distribution."},
    {false, "Mix", "Parts of a whole. Limits: Goodman's, which hold for all parts at once."},
    {false, "Hours", "Sum of the absences. Limits: Fay and Feuer's."},
    {false, "Overlap",
     "Of the time with a team of the unit away, the part with two or more away. Limits: "
     "from the spread between stretches of weeks."},
    {true, "Units against the network",
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
     "mean ranks within urgency is allowed for likewise. The difference is the shift that goes "
     "with "
     "that test (Hodges and Lehmann's, within urgency and weighted as the test is, as if it were "
     "the same for all urgencies). Medians and the test of all units (Kruskal and Wallis) are of "
     "all patients, whatever their urgency. "
     "Shrunken: drawn towards the network's value by empirical Bayes, the more so the fewer the "
     "unit's "
     "records; own weight is what its own count for. Ranks: from intervals that hold for all units "
     "at once (Sidak; of shares Clopper and Pearson's)."},
    {true, "Case-mix",
     "Logistic regression over the network, without the unit, on the patients' condition and "
     "what was needed, nothing that comes after the outcome; Firth's fit where it is "
     "separated. Observed over expected events, p from the exact sum of the fitted risks. "
     "casemix.csv holds odds ratios and c-statistic, calibration.csv expected and observed events "
     "by tenth of risk."},
    {true, "Change",
     "Control charts with exact limits for small counts, else widened by the spread between "
     "periods; a median beyond its limits counts only where the period's waits differ from all "
     "others' by rank within urgency, too, since few records make a median vary, and so does the "
     "mix; run rules from ten points on; "
     "this quarter against the last and a year ago, this "
     "year against the last; "
     "trends with over-dispersion. Waiting times are held against those of patients of the same "
     "urgency (van Elteren's test, and the shift that goes with it); their trends and runs are of "
     "medians from which each urgency's usual wait was first taken away, so that a period with "
     "more planned moves is not called slow. Charts and tables show medians of all patients as "
     "they are. Periods that the logs do not cover whole are left out of "
     "all of these, and marked: for a unit, where 1 in 10 days or more lie in stretches without a "
     "record of its own log that are too long for chance (1 in 100 such logs), whatever the other "
     "ends' logs tell of it; for the network, where that holds of all logs together, or 1 in 20 "
     "records "
     "lacks from the units' logs, each by the records that it sends. Waits are also looked at for "
     "the patients of each urgency."},
    {true, "Many looks",
     "Whoever looks often enough sees something. Of the signals, at most 1 in 20 is expected to be "
     "chance's work: all tests of units share one control of the false-discovery rate (Benjamini "
     "and Hochberg), all tests of change another; q is p after that, and at most 0.05 in a signal. "
     "A signal that stands in the worst case would still be one if all records that leave the "
     "matter open spoke against it, all other tests being as they are; else it rests on the number "
     "named."},
    {false, "Unknown",
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
        if (s->hiding && methods[i].compares)
            continue;
        html_element(out, "dt", "", methods[i].name);
        html_element(out, "dd", "", methods[i].text);
    }
    g_string_append(out, "</dl>\n");
    if (s->hiding)
        releasetext_html(out, s->hiding);
    g_string_append(out, "<details><summary>All definitions</summary>\n");
    Sheet *sheet = definitions(s);
    sheet_html(out, sheet);
    sheet_free(sheet);
    g_string_append(out, "</details>\n</section>\n");
}

static Sheet *input_table(const Source *s) {
    Sheet *sheet = sheet_new("Inputs");
    sheet_column(sheet, "File", SHEET_TEXT, WORDS_COUNT);
    if (!s->hiding)
        sheet_column(sheet, "Rows", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "SHA-256", SHEET_TEXT, WORDS_COUNT);
    for (guint i = 0; i < s->n_inputs; i++) {
        sheet_text(sheet, s->inputs[i].name);
        if (!s->hiding)
            sheet_number(sheet, (double)s->inputs[i].rows);
        sheet_text(sheet, s->inputs[i].sha256);
    }
    return sheet;
}

void prose_reproduce(GString *out, const Source *s) {
    page_section(out, "reproduce", "How to reproduce this report");
    char *how = g_strconcat(
        "The same logs and settings give the same files, byte for byte, on any machine. "
        "manifest.json names version, settings and the checksum of each input; summary.csv holds "
        "every estimate",
        s->hiding ? " that is not hidden." : "; charts/ holds each chart with what redraws it.",
        NULL);
    html_element(out, "p", "", how);
    g_free(how);
    char *again =
        s->hiding
            ? g_strdup_printf("crossward audit LOG… --network DIR --suppress %u writes it anew, "
                              "which only those can who hold the logs.",
                              s->hiding->least)
            : g_strdup("crossward audit LOG… --network DIR writes it anew, and crossward trace "
                       "names the records behind any one figure, with file and line.");
    html_element(out, "p", "", again);
    g_free(again);
    Sheet *sheet = input_table(s);
    sheet_html(out, sheet);
    sheet_free(sheet);
    html_element(out, "p", "", "Version: crossward " VERSION_TEXT ".");
    g_string_append(out, "</section>\n");
}
