// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward replay`: what dedicated teams would have reached of the requests in the logs.
#include "command/command.h"
#include "command/session.h"
#include "command/whatif.h"

#include "pack/folder.h"
#include "pack/gnuplot.h"
#include "pack/pack.h"
#include "pack/replaypack.h"
#include "pack/replaypage.h"

typedef struct {
    SessionOptions session;
    char *rules;
    int replicates;
    gint64 seed;
    gboolean requests;
} ReplayOptions;

static const char summary[] =
    "Offers each request of the logs, at its real time and place, to dedicated teams: 0, 1, 2 ... "
    "of\n"
    "them, on each roster, and writes what they would have reached, with intervals from resampled\n"
    "weeks. A team that is out is not there for the next request. A model, not a forecast.\n\n"
    "Rules come from --rules FILE, else from replay.ini in the network's folder, else they are 8\n"
    "teams at the units with most requests, round the clock and by day, 30 minutes to set out;\n"
    "time-critical requests don't wait, urgent ones 120 minutes, planned ones 720. README.md has\n"
    "all keys of such a file; an example.\n\n"
    "  [rules]\n"
    "  teams = 3\n"
    "  bases = ALD;BIR\n"
    "  mobilisation = 30\n"
    "  [wait]\n"
    "  time-critical = no\n"
    "  urgent = 120\n"
    "  planned = any\n"
    "  [roster days]\n"
    "  hours = 08:00-20:00\n"
    "  days = mon;tue;wed;thu;fri";

static bool parse(char **argv, ReplayOptions *o, GError **error) {
    const GOptionEntry own[] = {
        {"rules", 0, 0, G_OPTION_ARG_FILENAME, &o->rules, "the rules of the replay", "FILE"},
        {"replicates", 0, 0, G_OPTION_ARG_INT, &o->replicates, "of the resampled weeks (1000)",
         "N"},
        {"seed", 0, 0, G_OPTION_ARG_INT64, &o->seed, "that the weeks are drawn from (1)", "S"},
        {"requests", 0, 0, G_OPTION_ARG_NONE, &o->requests,
         "also write how each single request ended (requests.csv)", NULL},
        {0},
    };
    o->replicates = WHATIF_REPLICATES;
    o->seed = WHATIF_SEED;
    const SessionCommand command = {
        .arguments = "LOG...",
        .about = summary,
        .uses = SESSION_PACK,
        .out = "folder to write into (replay-pack)",
        .place = "DIR",
        .own = own,
        .words = 1,
    };
    bool good = session_parse(argv, &command, &o->session, error);
    if (good && (o->replicates < 0 || o->replicates > 1000000)) {
        g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE,
                    "--replicates lies between 0 and 1000000");
        good = false;
    }
    return good;
}

static bool write_text(Folder *f, const char *name, GString *text, GError **error) {
    const bool good = folder_write(f, name, text->str, text->len, error);
    g_string_free(text, TRUE);
    return good;
}

// The page and its charts.
static bool write_page(Folder *f, const ReplayOptions *o, const Session *a,
                       const char *const *names, const Trial *trial, const GnuplotFormats *formats,
                       GError **error) {
    Estimates *e = estimate_all(a->t, a->network, a->catalogue, &a->settings);
    const Source source = {.e = e,
                           .network = a->network,
                           .account = &a->account,
                           .findings = a->findings,
                           .files = names};
    GPtrArray *exhibits = replaypage_exhibits(trial, G_MAXUINT, !o->session.no_charts);
    GPtrArray *charts = g_ptr_array_new();
    for (guint i = 0; i < exhibits->len; i++)
        if (((Exhibit *)exhibits->pdata[i])->chart)
            g_ptr_array_add(charts, ((Exhibit *)exhibits->pdata[i])->chart);
    const char *scratch = charts->len > 0 ? folder_scratch(f, error) : "";
    bool good = scratch && (charts->len == 0 || gnuplot_draw(charts, scratch, error));
    for (guint i = 0; good && i < charts->len; i++)
        good = pack_chart(f, charts->pdata[i], formats, scratch, error);
    good = good && write_text(f, "replay.html", replaypage_html(&source, trial, exhibits), error);
    g_ptr_array_unref(charts);
    g_ptr_array_unref(exhibits);
    estimate_free(e);
    return good;
}

static const char *place_of(const ReplayOptions *o) {
    return o->session.out ? o->session.out : "replay-pack";
}

static bool write_pack(const ReplayOptions *o, const Session *a, const Trial *trial,
                       const GnuplotFormats *formats, GError **error) {
    Folder *f = folder_begin(place_of(o), o->session.force, error);
    if (!f)
        return false;
    const char **names = g_new(const char *, a->inputs->len);
    for (guint i = 0; i < a->inputs->len; i++)
        names[i] = ((Input *)a->inputs->pdata[i])->name;
    const bool good =
        write_text(f, "replay.csv", replaypack_figures(trial), error) &&
        write_text(f, "travel.csv", replaypack_travel(trial, a->t), error) &&
        (!o->requests ||
         write_text(f, "requests.csv", replaypack_requests(trial, a->t, names), error)) &&
        write_page(f, o, a, names, trial, formats, error) && folder_publish(f, error);
    folder_free(f);
    g_free(names);
    return good;
}

static void print_list(GPtrArray *list) {
    for (guint i = 0; i < list->len; i++)
        g_printerr("%s\n", (char *)list->pdata[i]);
    g_ptr_array_unref(list);
}

static int replay_logs(const ReplayOptions *o, const Session *a, GError **error) {
    GnuplotFormats formats = {0};
    if (!gnuplot_formats(o->session.chart_formats, &formats, error))
        return COMMAND_USAGE;
    if (!o->session.no_charts && !gnuplot_find(&formats, error))
        return COMMAND_MISSING;
    char *own = whatif_own_rules(a->network);
    const TrialSettings settings = {(uint64_t)o->seed, (unsigned)o->replicates,
                                    (unsigned)o->session.threads, o->session.confidence};
    Whatif w = {0};
    int code = COMMAND_USAGE;
    if (whatif_rules(&w, o->rules ? o->rules : own, a->network, error) &&
        whatif_run(&w, a, &settings, error))
        code = write_pack(o, a, w.trial, &formats, error) ? COMMAND_DONE : COMMAND_OUTPUT;
    if (code == COMMAND_USAGE && session_unreadable(*error))
        code = COMMAND_INPUT;
    if (code == COMMAND_DONE && !o->session.quiet)
        print_list(answers_list(w.trial));
    whatif_clear(&w);
    g_free(own);
    return code;
}

int replay_run(int argc, char **argv, GError **error) {
    ReplayOptions o = {0};
    Session a = {0};
    int code = COMMAND_USAGE;
    (void)argc;
    if (parse(argv, &o, error))
        code = session_load(&o.session, &a, error);
    if (code == COMMAND_DONE && !folder_may_begin(place_of(&o), o.session.force, error))
        code = COMMAND_OUTPUT;
    if (code == COMMAND_DONE)
        code = session_read(&a, error);
    if (code == COMMAND_DONE) {
        code = replay_logs(&o, &a, error);
        char *where = g_strdup_printf("the replay is in %s", place_of(&o));
        if (code == COMMAND_DONE && !o.session.quiet)
            session_say(&a, where);
        g_free(where);
        if (code == COMMAND_DONE && session_any_severe(a.findings))
            code = COMMAND_SEVERE;
    }
    session_clear(&a);
    session_clear_options(&o.session);
    g_free(o.rules);
    return code;
}
