// SPDX-License-Identifier: GPL-3.0-or-later
// Sentences of a replay. Every number comes from its figures; nothing is computed anew.
#include "replay/answers.h"

#include "base/percent.h"
#include "base/visible.h"

#include <math.h>
#include <string.h>

static void say(GPtrArray *list, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void say(GPtrArray *list, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    g_ptr_array_add(list, g_strdup_vprintf(format, arguments));
    va_end(arguments);
}

// A figure as a person reads it: one decimal below 10, else none.
static char *plain(double value) {
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    return g_strdup(g_ascii_formatd(
        text, sizeof text, value != 0 && fabs(value) < 9.95 ? "%.1f" : "%.0f", value + 0.0));
}

// "9.1 (6.2 to 12)"; without the brackets when there are no limits.
static char *figure(const StatsInterval *v) {
    g_autofree char *estimate = plain(v->estimate), *lower = plain(v->lower),
                    *upper = plain(v->upper);
    if (isnan(v->estimate))
        return g_strdup("an unknown number");
    if (isnan(v->lower) || isnan(v->upper))
        return g_steal_pointer(&estimate);
    return g_strdup_printf("%s (%s to %s)", estimate, lower, upper);
}

static char *percent(const StatsInterval *v) {
    const int decimals = percent_decimals(v->estimate);
    if (isnan(v->estimate))
        return g_strdup("an unknown share");
    return isnan(v->lower) || isnan(v->upper)
               ? percent_text(v->estimate, decimals)
               : percent_interval(v->estimate, v->lower, v->upper, decimals);
}

static char *teams_text(unsigned teams) {
    return teams == 1 ? g_strdup("1 team") : g_strdup_printf("%u teams", teams);
}

char *answers_roster(const Rules *rules, unsigned roster) {
    const RulesRoster *r = rules->rosters->pdata[roster];
    g_autofree char *hours = rules_hours_text(&r->hours);
    g_autofree char *name = g_strdelimit(g_strdup(r->name), "-_", ' ');
    return strcmp(name, hours) == 0 ? g_steal_pointer(&name)
                                    : g_strdup_printf("%s (%s)", name, hours);
}

// Bases of the teams in order, "ALD, BIR"; to be freed.
static char *bases_text(const Trial *trial, const Transfers *t) {
    GString *text = g_string_new(NULL);
    for (unsigned k = 0; k < trial->demand->teams; k++)
        g_string_append_printf(text, "%s%s", k ? ", " : "",
                               visible_isolated(t->units->pdata[trial->demand->base[k]]));
    return g_string_free(text, FALSE);
}

// ---- answers ----

static void say_reached(GPtrArray *list, const Trial *r, unsigned roster, unsigned teams) {
    const StatsInterval *v = trial_scenario(r, roster, teams)->value;
    g_autofree char *with = teams_text(teams), *duty = answers_roster(r->rules, roster),
                    *share = percent(&v[TRIAL_REACHED]), *left = figure(&v[TRIAL_CRITICAL_LEFT]),
                    *off = figure(&v[TRIAL_CRITICAL_OFF]), *target = percent(&v[TRIAL_IN_TARGET]);
    GString *s = g_string_new(NULL);
    g_string_printf(s,
                    "With %s, %s, %s of requests would have been reached; %s time-critical "
                    "patients a year would still have found no team free",
                    with, duty, share, left);
    if (v[TRIAL_CRITICAL_OFF].estimate > 0)
        g_string_append_printf(s, ", of them %s because none was on duty", off);
    if (!isnan(v[TRIAL_IN_TARGET].estimate))
        g_string_append_printf(
            s, "; %s of time-critical requests would have left with a team within the target",
            target);
    g_string_append_c(s, '.');
    g_ptr_array_add(list, g_string_free(s, FALSE));
}

static void say_added(GPtrArray *list, const Trial *r, unsigned roster) {
    const unsigned enough = trial_enough(r, roster), most = r->demand->teams;
    g_autofree char *duty = answers_roster(r->rules, roster),
                    *least = percent_exact(r->rules->worthwhile, 3);
    GString *s = g_string_new(NULL);
    g_string_printf(s, "Of all requests, %s,", duty);
    const unsigned last = MIN(enough + 1, most);
    for (unsigned k = 1; k <= last; k++) {
        g_autofree char *adds = percent(&trial_scenario(r, roster, k)->value[TRIAL_ADDS]);
        g_string_append_printf(s, "%s team %u adds %s",
                               k == 1      ? ""
                               : k == last ? " and"
                                           : ",",
                               k, adds);
    }
    if (enough < most)
        g_string_append_printf(s,
                               ": beyond %u the next one adds less than the %s that the rules "
                               "call worthwhile.",
                               enough, least);
    else
        g_string_append_printf(s, ": each adds at least the %s that the rules call worthwhile.",
                               least);
    if (last > 0)
        g_ptr_array_add(list, g_string_free(s, FALSE));
    else
        g_string_free(s, TRUE);
}

static char *whole_time(double people) {
    return people > 0 && people < 0.05 ? g_strdup("less than 0.1") : plain(people);
}

static void say_kept(GPtrArray *list, const Trial *r, unsigned roster, unsigned teams) {
    const StatsInterval *v = trial_scenario(r, roster, teams)->value,
                        *today = trial_scenario(r, roster, 0)->value;
    g_autofree char *with = teams_text(teams), *duty = answers_roster(r->rules, roster),
                    *hours = figure(&v[TRIAL_KEPT_HOURS]),
                    *people = whole_time(v[TRIAL_KEPT_WHOLE_TIME].estimate),
                    *before = plain(today[TRIAL_KEPT_HOURS].estimate),
                    *week = plain(r->network->weekly_hours),
                    *mean = plain(r->demand->mean_own_hours);
    GString *s = g_string_new(NULL);
    g_string_printf(s,
                    "With %s, %s, the sending units' own people would still be away %s hours a "
                    "week, as much as %s whole-time people at %s hours a week; without any team "
                    "it is %s",
                    with, duty, hours, people, week, before);
    if (r->demand->own_unknown > 0)
        g_string_append_printf(s,
                               " (absences of unknown length, %" G_GUINT64_FORMAT
                               ", taken at the mean of the others, %s hours)",
                               r->demand->own_unknown, mean);
    g_string_append_c(s, '.');
    g_ptr_array_add(list, g_string_free(s, FALSE));
}

static void say_use(GPtrArray *list, const Trial *r, unsigned roster, unsigned teams) {
    const StatsInterval *v = trial_scenario(r, roster, teams)->value;
    g_autofree char *with = teams_text(teams), *duty = answers_roster(r->rules, roster),
                    *use = percent(&v[TRIAL_USE]), *median = figure(&v[TRIAL_WAIT_MEDIAN]),
                    *p90 = figure(&v[TRIAL_WAIT_P90]);
    say(list,
        "With %s, %s, a team would be out %s of its time on duty; from request to a team at the "
        "bedside it would take %s minutes in the median, and nine in ten within %s.",
        with, duty, use, median, p90);
}

static void say_rosters(GPtrArray *list, const Trial *r, unsigned teams) {
    g_autofree char *with = teams_text(teams);
    GString *s = g_string_new(NULL);
    g_string_printf(s, "%s would reach:", with);
    for (unsigned i = 0; i < r->rules->rosters->len; i++) {
        g_autofree char *duty = answers_roster(r->rules, i),
                        *share = percent(&trial_scenario(r, i, teams)->value[TRIAL_REACHED]),
                        *critical =
                            percent(&trial_scenario(r, i, teams)->value[TRIAL_REACHED_CRITICAL]);
        g_string_append_printf(s, "%s %s, %s of requests and %s of the time-critical ones",
                               i ? ";" : "", duty, share, critical);
    }
    g_string_append_c(s, '.');
    g_ptr_array_add(list, g_string_free(s, FALSE));
}

// More teams can reach fewer requests; it is said where it happens.
static void say_reversals(GPtrArray *list, const Trial *r, unsigned roster) {
    for (unsigned k = 1; k <= r->demand->teams; k++)
        if (trial_scenario(r, roster, k)->reached < trial_scenario(r, roster, k - 1)->reached) {
            g_autofree char *duty = answers_roster(r->rules, roster);
            say(list,
                "On %s, %u teams reach fewer requests than %u. With several bases or with waiting "
                "that can happen: a team sent to one patient is missed by the next.",
                duty, k, k - 1);
        }
}

char *answers_headline(const Trial *trial) {
    GPtrArray *list = g_ptr_array_new();
    say_reached(list, trial, 0, MIN(MAX(trial_enough(trial, 0), 1), trial->demand->teams));
    char *sentence = list->pdata[0];
    g_ptr_array_unref(list); // the sentence stays
    return sentence;
}

// What a roster comes to with as many teams as pay.
static void say_enough(GPtrArray *list, const Trial *r, unsigned roster) {
    const unsigned teams = MAX(trial_enough(r, roster), 1);
    say_added(list, r, roster);
    if (r->demand->teams > 0) {
        say_kept(list, r, roster, teams);
        say_use(list, r, roster, teams);
    }
    say_reversals(list, r, roster);
}

GPtrArray *answers_list(const Trial *trial) {
    GPtrArray *list = g_ptr_array_new_with_free_func(g_free);
    const unsigned most = trial->demand->teams;
    for (unsigned i = 0; i < trial->rules->rosters->len; i++) {
        const unsigned enough = trial_enough(trial, i);
        for (unsigned k = 1; k <= MIN(MAX(enough + 1, 2), most); k++)
            say_reached(list, trial, i, k);
        say_enough(list, trial, i);
    }
    if (trial->rules->rosters->len > 1 && most > 0)
        say_rosters(list, trial, MAX(trial_enough(trial, 0), 1));
    return list;
}

GPtrArray *answers_brief(const Trial *trial) {
    GPtrArray *list = g_ptr_array_new_with_free_func(g_free);
    for (unsigned i = 0; i < trial->rules->rosters->len; i++) {
        if (i > 0 && trial->demand->teams > 0)
            say_reached(list, trial, i, MAX(trial_enough(trial, i), 1));
        say_enough(list, trial, i);
    }
    return list;
}

// ---- assumptions ----

static void say_requests(GPtrArray *list, const Trial *r) {
    const Demand *d = r->demand;
    const bool all = !strcmp(r->rules->offered_text, "all");
    say(list,
        "The logs' requests (%zu, in %.0f day%s) are offered to the teams, each at its real time "
        "and place, whoever took it in the logs%s%s%s. Left out: %" G_GUINT64_FORMAT
        " without a request time%s.",
        d->n, r->days, r->days < 1.5 ? "" : "s", all ? "" : " (only those not contrary to ",
        all ? "" : r->rules->offered_text, all ? "" : ")", d->undated,
        d->not_offered ? ", and those that are not offered" : "");
    say(list,
        "A request that was later withdrawn, or whose patient died waiting, is served like any "
        "other, so the teams' load is rather too high than too low. Requests come as they came: "
        "that more teams might draw more requests is not in the model.");
    if (d->urgency_unknown > 0)
        say(list, "Requests of unknown urgency, %" G_GUINT64_FORMAT ", count as %s.",
            d->urgency_unknown,
            field_code_text(field_table[FIELD_urgency].codes, r->rules->unknown_class + 1));
}

static void say_waits(GPtrArray *list, const Rules *r) {
    GString *s = g_string_new("The nearest free team on duty goes; of those waiting, the "
                              "time-critical come first, then the urgent.");
    for (unsigned c = 0; c < RULES_CLASSES; c++) {
        const char *name = field_code_text(field_table[FIELD_urgency].codes, c + 1);
        g_string_append_printf(s, " A %s%s request ", name, "");
        if (r->wait[c] == 0)
            g_string_append(s, "does not wait: with no team free the sending unit goes itself.");
        else if (r->wait[c] == RULES_ENDLESS)
            g_string_append(s, "waits as long as it takes.");
        else
            g_string_append_printf(s, "waits up to %d minutes, then the sending unit goes itself.",
                                   r->wait[c]);
    }
    g_ptr_array_add(list, g_string_free(s, FALSE));
}

static void say_teams(GPtrArray *list, const Trial *r, const Transfers *t) {
    const Rules *rules = r->rules;
    g_autofree char *bases = bases_text(r, t);
    const bool given = rules->named->len > 0 || rules->bases->len > 0;
    if (r->demand->teams > 0)
        say(list, "Teams stand, in the order in which they are added, at %s%s.", bases,
            given ? "" : " (the rules name no base: the units with most requests)");
    GString *stays = g_string_new(NULL);
    for (unsigned c = 0; c < RULES_CLASSES; c++)
        g_string_append_printf(stays, "%s%d (%s)",
                               c == 0   ? ""
                               : c == 1 ? ", "
                                        : " or ",
                               r->demand->stabilisation[c],
                               field_code_text(field_table[FIELD_urgency].codes, c + 1));
    say(list,
        "A team sets out %d minutes after it is called, stays %s minutes at the bedside (%s) and "
        "%d at the handover (%s), goes back to its base, and can only then be sent again. It "
        "takes no call outside its hours, and ends one that it has begun.",
        rules->mobilisation, stays->str,
        rules->stabilisation < 0 ? "medians of the logs" : "by the rules", r->demand->handover,
        rules->handover < 0 ? "median of the logs" : "by the rules");
    g_string_free(stays, TRUE);
    for (guint k = 0; k < rules->named->len; k++) {
        const RulesTeam *team = rules->named->pdata[k];
        g_autofree char *hours = rules_hours_text(&team->hours);
        say(list, "Team %s stands at %s, %s.", team->name, team->base,
            team->has_hours ? hours : "with the hours of the roster");
    }
}

// By what each request's journey with the patient is known.
static void say_travel(GPtrArray *list, const Trial *r) {
    const Demand *d = r->demand;
    size_t by[TRAVEL_TYPICAL + 1] = {0};
    for (size_t i = 0; i < d->n; i++) {
        const DemandRoute *route = &g_array_index(d->routes, DemandRoute, d->request[i].route);
        by[travel_leg(d->travel, route->from, route->to).basis]++;
    }
    g_autofree char *speed = plain(travel_speed(d->travel));
    say(list,
        "Travel times are medians of the journeys by road that the logs know between two units, "
        "both ways together (requests: %zu); where there is none, distance at %s km/h (%zu); where "
        "nothing is known, the median of all journeys, %d minutes (%zu). Within one site: %d.",
        by[TRAVEL_JOURNEYS], speed, by[TRAVEL_DISTANCE], travel_typical(d->travel),
        by[TRAVEL_TYPICAL], r->rules->same_site);
}

GPtrArray *answers_assumptions(const Trial *trial, const Transfers *t) {
    GPtrArray *list = g_ptr_array_new_with_free_func(g_free);
    say_requests(list, trial);
    say_teams(list, trial, t);
    say_waits(list, trial->rules);
    say_travel(list, trial);
    g_autofree char *mean = plain(trial->demand->mean_own_hours),
                    *confidence = percent_exact(trial->settings.confidence, 4);
    say(list,
        "Hours that stay with the sending units are those that the logs show for their own people "
        "(absences of unknown length, %" G_GUINT64_FORMAT ", count as the mean, %s hours), for the "
        "requests to which no team was sent. Transfers that others did in the logs add none.",
        trial->demand->own_unknown, mean);
    if (trial->weeks >= 10 && trial->settings.replicates >= 2)
        say(list,
            "Intervals (%s) are percentiles of %u replays of %u weeks, drawn with replacement "
            "from the logs' own in blocks of %u running. They show what chance in the requests "
            "does, not whether the rules are right.",
            confidence, trial->settings.replicates, trial->weeks, trial->block);
    else
        say(list, "There are too few weeks (%u) or replicates for intervals.", trial->weeks);
    return list;
}

GPtrArray *answers_cautions(void) {
    GPtrArray *list = g_ptr_array_new_with_free_func(g_free);
    say(list,
        "A model, not a forecast: it says what these rules would have made of these requests.");
    say(list, "Not for decisions about a single patient. Who reached whom says nothing about how "
              "well a patient was cared for.");
    say(list, "Requests that nobody wrote down are not in it, nor are vehicles, roads on the day, "
              "staff sickness or weather.");
    return list;
}
