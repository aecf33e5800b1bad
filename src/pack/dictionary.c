// SPDX-License-Identifier: GPL-3.0-or-later
// The dictionary: a name means the same in every file of the pack.
#include "pack/dictionary.h"

#include <string.h>

static const DataColumn words[] = {
    {.name = "indicator", .description = "name in the catalogue of indicators"},
    {.name = "measure", .description = "share, rate, quantile, mix, count, hours or overlap"},
    {.name = "unit", .description = "unit code; all = the network"},
    {.name = "period", .description = "all, or an audit year, quarter or month"},
    {.name = "group", .description = "all, or field=code of a breakdown or a part of a mix"},
    {.name = "events", .description = "numerator", .type = DATA_NUMBER},
    {.name = "total",
     .description = "denominator, exposure, or transfers in all",
     .type = DATA_NUMBER},
    {.name = "estimate", .description = "estimate; empty where undefined", .type = DATA_NUMBER},
    {.name = "lower", .description = "lower limit", .type = DATA_NUMBER},
    {.name = "upper", .description = "upper limit", .type = DATA_NUMBER},
    {.name = "confidence", .description = "of the limits, two-sided", .type = DATA_NUMBER},
    {.name = "method",
     .description = "of the limits; suppressed: the row is hidden, its other numbers are empty"},
    {.name = "roster", .description = "hours on duty that the teams have"},
    {.name = "teams", .description = "how many of them", .type = DATA_INTEGER},
    {.name = "replicates",
     .description = "replays of resampled weeks behind the limits",
     .type = DATA_INTEGER},
    {.name = "unknown",
     .description = "records of which it is not known whether they count",
     .type = DATA_INTEGER},
    {.name = "if_unknown_none",
     .description = "share if none of the unknown were events",
     .type = DATA_NUMBER},
    {.name = "if_unknown_all",
     .description = "share if all of the unknown were events",
     .type = DATA_NUMBER},
    {.name = "scale", .description = "what estimate and limits are counted in"},
    // comparisons.csv, signals.csv
    {.name = "kind",
     .description =
         "crude or adjusted for case-mix; of a signal: level, trend, shift, point or change"},
    {.name = "expected",
     .description = "events expected at the network's value or from the case-mix",
     .type = DATA_NUMBER},
    {.name = "value",
     .description = "the unit's value; adjusted: observed / expected",
     .type = DATA_NUMBER},
    {.name = "centre",
     .description = "value of all units together; adjusted: 1",
     .type = DATA_NUMBER},
    {.name = "low_95",
     .description = "lower 95 % limit of the funnel at the unit's size",
     .type = DATA_NUMBER},
    {.name = "high_95", .description = "upper 95 % limit", .type = DATA_NUMBER},
    {.name = "low_998", .description = "lower 99.8 % limit", .type = DATA_NUMBER},
    {.name = "high_998", .description = "upper 99.8 % limit", .type = DATA_NUMBER},
    {.name = "p",
     .description = "two-sided p, the usual spread between units allowed for",
     .type = DATA_NUMBER},
    {.name = "q",
     .description = "p adjusted for false discoveries over its family of tests",
     .type = DATA_NUMBER},
    {.name = "phi",
     .description = "mean square of the units' standardised differences",
     .type = DATA_NUMBER},
    {.name = "tau2",
     .description = "variance between units that was allowed for",
     .type = DATA_NUMBER},
    {.name = "robust",
     .description = "whether the signal stays when the unknown turn out against it"},
    {.name = "worst_p",
     .description = "p if the unknown turn out against the change, where p is at most 0.05; rare "
                    "events: empty",
     .type = DATA_NUMBER},
    {.name = "steady_units",
     .description = "beside the network's trend of a volume: units with records in every month",
     .type = DATA_INTEGER},
    {.name = "steady_estimate", .description = "the trend of these alone", .type = DATA_NUMBER},
    {.name = "steady_lower", .description = "its lower limit", .type = DATA_NUMBER},
    {.name = "steady_upper", .description = "its upper limit", .type = DATA_NUMBER},
    {.name = "steady_p", .description = "its p", .type = DATA_NUMBER},
    {.name = "shrunk", .description = "value drawn towards the network's", .type = DATA_NUMBER},
    {.name = "own_weight",
     .description = "weight of the unit's own value in that",
     .type = DATA_NUMBER},
    {.name = "rank_low",
     .description = "least rank not ruled out, 1 = the greatest value",
     .type = DATA_INTEGER},
    {.name = "rank_high", .description = "greatest rank not ruled out", .type = DATA_INTEGER},
    {.name = "scope", .description = "unit or network; network alone where one unit sent all"},
    {.name = "direction", .description = "better, worse, higher or lower"},
    {.name = "reference", .description = "what the estimate is held against", .type = DATA_NUMBER},
    {.name = "sentence", .description = "the signal in words"},
    {.name = "against", .description = "of a change: the quarter or year it is held against"},
    {.name = "adjusted", .description = "whether a level is adjusted for case-mix"},
    {.name = "effect",
     .description = "difference (of waiting times within urgency) or ratio; lower and upper are "
                    "its limits, or the level's, "
                    "or a point's control limits",
     .type = DATA_NUMBER},
    {.name = "effect_low", .description = "lower limit of the effect", .type = DATA_NUMBER},
    {.name = "effect_high", .description = "upper limit of the effect", .type = DATA_NUMBER},
    {.name = "kruskal_h",
     .description =
         "of medians: Kruskal and Wallis's H over all units, urgencies together, ties corrected",
     .type = DATA_NUMBER},
    {.name = "kruskal_df", .description = "its degrees of freedom", .type = DATA_INTEGER},
    {.name = "kruskal_p",
     .description = "whether the units' times are alike, by its chi-square",
     .type = DATA_NUMBER},
    // series.csv, casemix.csv, calibration.csv, waits.csv, mixes.csv, items.csv
    {.name = "chart", .description = "p, u, xmr, g or t: how limits were drawn"},
    {.name = "whole",
     .description = "whether the logs cover the period whole; others are not judged"},
    {.name = "beyond", .description = "whether the point lies outside its limits"},
    {.name = "fit", .description = "maximum-likelihood, firth (separated) or refused"},
    {.name = "reason", .description = "why it was refused, or fitted with fewer factors"},
    {.name = "factor", .description = "field that the risk was modelled on"},
    {.name = "level", .description = "code of the factor"},
    {.name = "records", .description = "records of the level or tenth", .type = DATA_INTEGER},
    {.name = "odds_ratio",
     .description = "against the commonest level of the factor, which has 1",
     .type = DATA_NUMBER},
    {.name = "model_records", .description = "records in the model", .type = DATA_INTEGER},
    {.name = "model_events", .description = "events in the model", .type = DATA_INTEGER},
    {.name = "parameters",
     .description = "parameters of the model, intercept left aside",
     .type = DATA_INTEGER},
    {.name = "c_statistic",
     .description = "chance that an event had the higher risk",
     .type = DATA_NUMBER},
    {.name = "tenth",
     .description = "of the model's records by their fitted risk, 1 = the least; equal risks stay "
                    "together, so that there may be fewer",
     .type = DATA_INTEGER},
    {.name = "lowest_risk", .description = "least fitted risk of the tenth", .type = DATA_NUMBER},
    {.name = "highest_risk", .description = "greatest", .type = DATA_NUMBER},
    {.name = "mean_risk", .description = "expected / records", .type = DATA_NUMBER},
    {.name = "urgency", .description = "how soon the patient had to go"},
    {.name = "minutes", .description = "since the request", .type = DATA_NUMBER},
    {.name = "end",
     .description = "how the request ended by then: departed, stood-down, died-before-departure; "
                    "open = not yet"},
    {.name = "at_risk", .description = "requests still open just before", .type = DATA_INTEGER},
    {.name = "part", .description = "code of the mix"},
    {.name = "residual",
     .description =
         "standardised: beyond about 3 the unit has more or less of the part than chance",
     .type = DATA_NUMBER},
    {.name = "chi_square", .description = "of units by parts", .type = DATA_NUMBER},
    {.name = "df", .description = "its degrees of freedom", .type = DATA_INTEGER},
    {.name = "cramer_v", .description = "0 = units alike, 1 = wholly apart", .type = DATA_NUMBER},
    {.name = "smallest_expected",
     .description = "below 5 the chi-square p is not to be trusted",
     .type = DATA_NUMBER},
    // findings.csv, put-aside.csv
    {.name = "file", .description = "input, as manifest.json names it"},
    {.name = "line",
     .description = "physical line that the record starts on; 0 = the file",
     .type = DATA_INTEGER},
    {.name = "column", .description = "column, from 1; empty = the row", .type = DATA_INTEGER},
    {.name = "field", .description = "field of the record"},
    {.name = "severity", .description = "note, repair, lost or severe"},
    {.name = "code", .description = "short stable word for the kind of finding"},
    {.name = "found", .description = "the cell as found, where it may be shown"},
    {.name = "message", .description = "the finding in words"},
    {.name = "row", .description = "the row word for word, what must not be shown masked"},
    // base-cover.csv
    {.name = "figure", .description = "what is told about absences from the base"},
    // received.csv, agreement.csv, recorded.csv
    {.name = "month", .description = "local month"},
    {.name = "rows", .description = "records of the unit in the month", .type = DATA_INTEGER},
    {.name = "usual", .description = "records that would be usual", .type = DATA_NUMBER},
    {.name = "state", .description = "what that says of the month"},
    {.name = "sender_known",
     .description = "joined pairs in which the sender's log knows the field",
     .type = DATA_INTEGER},
    {.name = "receiver_known",
     .description = "joined pairs in which the receiver's log does",
     .type = DATA_INTEGER},
    {.name = "both",
     .description = "in which both do; of transfers: that both logs have",
     .type = DATA_INTEGER},
    {.name = "equal", .description = "in which both say the same", .type = DATA_INTEGER},
    {.name = "within_5_minutes",
     .description = "times that differ by at most five minutes",
     .type = DATA_INTEGER},
    {.name = "agreement", .description = "equal / both", .type = DATA_NUMBER},
    {.name = "kappa", .description = "Cohen's kappa", .type = DATA_NUMBER},
    {.name = "sender", .description = "transfers that the sender's log has", .type = DATA_INTEGER},
    {.name = "receiver",
     .description = "transfers that the receiver's log has",
     .type = DATA_INTEGER},
    {.name = "recorded",
     .description = "share of all transfers that any log has",
     .type = DATA_NUMBER},
    {.name = "recorded_lower", .description = "its lower limit", .type = DATA_NUMBER},
    {.name = "recorded_upper", .description = "its upper limit", .type = DATA_NUMBER},
};

static DataColumn column(char *name) {
    DataColumn found = {.name = name, .description = "", .may_be_empty = true};
    for (size_t i = 0; i < G_N_ELEMENTS(words); i++)
        if (strcmp(words[i].name, name) == 0) {
            found = words[i];
            found.name = name;
            found.may_be_empty = true;
        }
    return found;
}

DataColumn *dictionary_columns(const char *csv, size_t *n) {
    char *line = g_strndup(csv, strcspn(csv, "\n")), **names = g_strsplit(line, ",", -1);
    *n = g_strv_length(names);
    DataColumn *columns = g_new(DataColumn, *n + 1);
    for (size_t i = 0; i < *n; i++)
        columns[i] = column(g_strdup(names[i]));
    g_strfreev(names);
    g_free(line);
    return columns;
}

void dictionary_free(DataColumn *columns, size_t n) {
    for (size_t i = 0; i < n; i++)
        g_free((char *)columns[i].name);
    g_free(columns);
}
