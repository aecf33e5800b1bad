// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward plan`: how many transfers or quarters until a given change can be told from chance.
#include "command/command.h"
#include "command/session.h"

#include "pack/folder.h"
#include "pack/gnuplot.h"
#include "pack/planpack.h"
#include "stats/power.h"

#include <float.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct {
    SessionOptions session;
    char *indicator, *unit;
    double share, rate, per, to, change, power, alpha, per_quarter;
} PlanOptions;

static const char summary[] =
    "How many transfers or quarters are needed before a given change of a share, rate or median "
    "can "
    "be told\nfrom chance, comparing two periods of equal length; and what the data at hand can "
    "show.\n"
    "\n"
    "From logs:  crossward plan --indicator non_clinical_share --to 0.15 --network DIR LOG...\n"
    "By hand:    crossward plan --share 0.22 --to 0.15 --per-quarter 300\n"
    "            crossward plan --rate 22 --per 100 --to 15 --per-quarter 300";

static bool wrong(GError **error, const char *why) {
    g_set_error_literal(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE, why);
    return false;
}

static const double NOT_GIVEN = -DBL_MAX;

// What was not given becomes NaN, so nothing else may be one.
static bool numbers(PlanOptions *o, GError **error) {
    const struct {
        double *value;
        const char *why;
    } all[] = {{&o->share, "--share is no finite number"},
               {&o->rate, "--rate is no finite number"},
               {&o->to, "--to is no finite number"},
               {&o->change, "--change is no finite number"},
               {&o->per_quarter, "--per-quarter is no finite number"}};
    for (size_t i = 0; i < G_N_ELEMENTS(all); i++) {
        if (!isfinite(*all[i].value))
            return wrong(error, all[i].why);
        *all[i].value = *all[i].value > NOT_GIVEN ? *all[i].value : NAN;
    }
    return true;
}

static bool parse(char **argv, PlanOptions *o, GError **error) {
    const GOptionEntry own[] = {
        {"indicator", 0, 0, G_OPTION_ARG_STRING, &o->indicator,
         "of the catalogue, worked out from the logs", "NAME"},
        {"unit", 0, 0, G_OPTION_ARG_STRING, &o->unit, "of that sending unit alone", "U"},
        {"share", 0, 0, G_OPTION_ARG_DOUBLE, &o->share, "by hand: the share now, 0 to 1", "P"},
        {"rate", 0, 0, G_OPTION_ARG_DOUBLE, &o->rate, "by hand: the rate now", "R"},
        {"per", 0, 0, G_OPTION_ARG_DOUBLE, &o->per, "by hand: transfers that the rate is for (100)",
         "N"},
        {"per-quarter", 0, 0, G_OPTION_ARG_DOUBLE, &o->per_quarter, "by hand: transfers a quarter",
         "N"},
        {"to", 0, 0, G_OPTION_ARG_DOUBLE, &o->to,
         "the value to be seen: a share (0 to 1), a rate on its scale, minutes", "V"},
        {"change", 0, 0, G_OPTION_ARG_DOUBLE, &o->change, "instead: the value now times this", "F"},
        {"power", 0, 0, G_OPTION_ARG_DOUBLE, &o->power, "wanted (0.8)", "P"},
        {"alpha", 0, 0, G_OPTION_ARG_DOUBLE, &o->alpha, "two-sided level of the test (0.05)", "A"},
        {0},
    };
    o->share = o->rate = o->to = o->change = o->per_quarter = NOT_GIVEN;
    o->per = 100;
    o->power = 0.8;
    o->alpha = 0.05;
    const SessionCommand command = {
        .arguments = "[LOG...]",
        .about = summary,
        .uses = SESSION_READING | SESSION_NO_CHARTS | SESSION_FORCE,
        .out = "folder to write text, curve and chart into (none; the text is printed)",
        .place = "DIR",
        .own = own,
    };
    return session_parse(argv, &command, &o->session, error) && numbers(o, error);
}

static const double LEAST = 1e-6, MOST = 1e6, MOST_A_QUARTER = 1e5;

static bool sane(const PlanOptions *o, GError **error) {
    const int given = (o->indicator != NULL) + !isnan(o->share) + !isnan(o->rate);
    if (given != 1)
        return wrong(error, "give one of --indicator (with logs), --share and --rate");
    if (o->indicator && !o->session.logs)
        return wrong(error, "--indicator is worked out from logs: name at least one, a CSV file, "
                            "a folder or -");
    if (!o->indicator && o->session.logs)
        return wrong(error, "logs are read for --indicator alone, not for --share or --rate");
    if (isnan(o->to) == isnan(o->change))
        return wrong(error, "give one of --to and --change");
    if (!(o->power > 0 && o->power < 1) || !(o->alpha > 0 && o->alpha < 1))
        return wrong(error, "--power and --alpha lie between 0 and 1");
    if (o->alpha < POWER_LEAST_ALPHA)
        return wrong(error, "--alpha is at least 1e-100");
    if (!isnan(o->share) && !(o->share >= 0 && o->share <= 1))
        return wrong(error, "--share lies from 0 to 1");
    if (o->rate < LEAST || o->rate > MOST || !(o->per >= 1 && o->per <= MOST))
        return wrong(error, "--rate lies from 0.000001, --per from 1 on, both to 1000000");
    if (o->per_quarter < 0.01 || o->per_quarter > MOST_A_QUARTER)
        return wrong(error, "--per-quarter lies from 0.01 to 100000");
    return true;
}

// Fills `then`; false with an error if it can't be.
static bool set_target(Planning *p, const PlanOptions *o, double times, GError **error) {
    p->then = isnan(o->to) ? p->now * o->change : o->to / times;
    p->alpha = o->alpha;
    p->wanted = o->power;
    if (p->kind != PLANNING_SHARE && !(p->now > 0))
        return wrong(error, "the value now is 0, so nothing can be planned from it");
    if (p->kind == PLANNING_SHARE && !(p->then >= 0 && p->then <= 1))
        return wrong(error, "the share to be seen lies from 0 to 1");
    if (p->kind != PLANNING_SHARE && !(p->then >= p->now * LEAST && p->then <= p->now * MOST))
        return wrong(error, "the value to be seen lies from a millionth of the value now to a "
                            "million times as much");
    return p->then != p->now || wrong(error, "the value to be seen is the value now");
}

static bool write_pack(const PlanOptions *o, const Planning *p, const PlanpackWords *w,
                       const GString *text, GError **error) {
    Folder *f = folder_begin(o->session.out, o->session.force, error);
    if (!f)
        return false;
    GString *curve = planpack_curve(p);
    bool good = folder_write(f, "plan.txt", text->str, text->len, error) &&
                folder_write(f, "plan.csv", curve->str, curve->len, error);
    if (good && !o->session.no_charts) {
        Chart *c = planpack_chart(p, w);
        GPtrArray *charts = g_ptr_array_new();
        g_ptr_array_add(charts, c);
        const char *scratch = folder_scratch(f, error);
        char *script = chart_script(c);
        good = scratch && gnuplot_draw(charts, scratch, error) &&
               folder_write(f, "charts/power.svg", c->svg, c->svg_length, error) &&
               folder_write(f, "charts/power.gp", script, strlen(script), error) &&
               folder_write(f, "charts/power.dat", c->data->str, c->data->len, error);
        g_free(script);
        g_ptr_array_unref(charts);
        chart_free(c);
    }
    good = good && folder_publish(f, error);
    folder_free(f);
    g_string_free(curve, TRUE);
    return good;
}

// Says and writes what follows from a plan that is complete.
static int answer(const PlanOptions *o, Planning *p, const PlanpackWords *w, GError **error) {
    const GnuplotFormats formats = {0};
    if (!set_target(p, o, w->times, error))
        return COMMAND_USAGE;
    if (o->session.out && !o->session.no_charts && !gnuplot_find(&formats, error))
        return COMMAND_MISSING;
    GString *text = planpack_text(p, w);
    bool good = !o->session.out || write_pack(o, p, w, text, error);
    if (good && (fwrite(text->str, 1, text->len, stdout) != text->len || fflush(stdout) != 0))
        good = wrong(error, "standard output cannot be written");
    g_string_free(text, TRUE);
    return good ? COMMAND_DONE : COMMAND_OUTPUT;
}

static int by_hand(const PlanOptions *o, GError **error) {
    Planning p = {.cluster = 1, .per_quarter = o->per_quarter};
    PlanpackWords w = {"The share", "", 1, "transfers"};
    char *unit = g_strdup_printf("per %g transfers", o->per);
    p.kind = isnan(o->rate) ? PLANNING_SHARE : PLANNING_RATE;
    p.now = isnan(o->rate) ? o->share : o->rate / o->per;
    if (p.kind == PLANNING_RATE)
        w = (PlanpackWords){"The rate", unit, o->per, "transfers"};
    const int code = answer(o, &p, &w, error);
    g_free(unit);
    return code;
}

static const Indicator *find_indicator(const Session *a, const char *name, GError **error) {
    for (guint i = 0; i < a->catalogue->len; i++)
        if (!strcmp(((Indicator *)a->catalogue->pdata[i])->name, name))
            return a->catalogue->pdata[i];
    g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE,
                "the catalogue has no indicator '%s'", name);
    return NULL;
}

static bool find_unit(const Session *a, const char *code, uint16_t *unit, GError **error) {
    *unit = code ? (uint16_t)GPOINTER_TO_UINT(g_hash_table_lookup(a->t->unit_index, code)) : 0;
    if (!code || *unit)
        return true;
    g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE, "no log names the unit '%s'",
                code);
    return false;
}

static int from_logs(const PlanOptions *o, Session *a, GError **error) {
    const Indicator *in = find_indicator(a, o->indicator, error);
    uint16_t unit = 0;
    if (!in || !find_unit(a, o->unit, &unit, error))
        return COMMAND_USAGE;
    const CountSpan span = {a->settings.has_span, a->settings.span_first, a->settings.span_end};
    CountData *data = count_data_new(a->t, a->network, a->catalogue, &span);
    Planning p = {0};
    int code = COMMAND_USAGE;
    if (planning_from(&p, data, in, unit, error)) {
        static const char *const sizes[] = {"transfers", "hours", "km", "weeks"};
        const bool rate = in->measure == MEASURE_RATE;
        char *subject = g_strconcat(in->title, o->unit ? ", " : "", o->unit, NULL);
        const PlanpackWords w = {subject, rate ? in->scale : "", rate ? in->per : 1,
                                 rate ? sizes[in->exposure] : "transfers"};
        code = answer(o, &p, &w, error);
        g_free(subject);
    }
    planning_clear(&p);
    count_data_free(data);
    return code;
}

int plan_run(int argc, char **argv, GError **error) {
    PlanOptions o = {0};
    Session a = {0};
    int code = COMMAND_USAGE;
    (void)argc;
    if (parse(argv, &o, error) && sane(&o, error)) {
        if (!o.indicator) {
            code = by_hand(&o, error);
        } else {
            code = session_load(&o.session, &a, error);
            if (code == COMMAND_DONE && o.session.out &&
                !folder_may_begin(o.session.out, o.session.force, error))
                code = COMMAND_OUTPUT;
            if (code == COMMAND_DONE && !*error)
                code = session_read(&a, error);
            if (code == COMMAND_DONE && !*error)
                code = from_logs(&o, &a, error);
            if (code == COMMAND_DONE && session_any_severe(a.findings)) {
                code = COMMAND_SEVERE;
                if (!o.session.quiet)
                    g_printerr("something in the logs is doubtful: crossward check says what\n");
            }
        }
    }
    session_clear(&a);
    session_clear_options(&o.session);
    g_free(o.indicator);
    g_free(o.unit);
    return code;
}
