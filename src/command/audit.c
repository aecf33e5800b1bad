// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward audit`: logs in, the pack out.
#include "base/memory.h"
#include "command/command.h"
#include "command/session.h"
#include "command/settings.h"
#include "command/whatif.h"

#include "base/parallel.h"
#include "pack/pack.h"
#include "pack/release.h"
#include "pack/tables.h"

#include <inttypes.h>
#include <string.h>

// The inputs as the manifest lists them; free them.
static TablesInput *inputs_of(const Session *a) {
    TablesInput *inputs = g_new(TablesInput, a->inputs->len);
    for (guint i = 0; i < a->inputs->len; i++) {
        const Input *in = a->inputs->pdata[i];
        inputs[i] = (TablesInput){in->name, in->sha256, in->bytes, in->rows, false};
    }
    return inputs;
}

// The day that each input was received; free it.
static int32_t *received_days(const Session *a) {
    int32_t *days = g_new(int32_t, a->inputs->len + 1);
    for (guint i = 0; i < a->inputs->len; i++)
        days[i] = ((Input *)a->inputs->pdata[i])->received;
    return days;
}

// Names of the inputs by their index; free the array.
static const char **names_of(const Session *a) {
    const char **names = g_new(const char *, a->inputs->len + 1);
    for (guint i = 0; i < a->inputs->len; i++)
        names[i] = ((Input *)a->inputs->pdata[i])->name;
    return names;
}

enum { NO_RELEASE = -1 }; // --suppress was not given
enum { MOST_SAID = 3 };   // signals in the closing summary

// The main signals, a line each: the first sentence of each says what was found.
static void say_signals(GString *said, const CountData *d, const Source *s,
                        const Signals *signals) {
    const guint n = signals->list->len;
    const Period *all = &g_array_index(s->e->periods, Period, 0);
    size_t rows = 0;
    for (size_t i = 0; i < d->t->n; i++)
        rows += d->first + d->month[i] >= all->first && d->first + d->month[i] < all->end;
    if (rows == 0)
        g_string_append(said, "no record is left to count, or none in the period asked for: there "
                              "is nothing to estimate\n");
    else if (n == 0)
        g_string_append(said, "nothing differs or changes by more than chance\n");
    for (guint i = 0; i < MIN(n, MOST_SAID); i++) {
        const char *sentence = ((Signal *)signals->list->pdata[i])->sentence;
        const char *end = strstr(sentence, ". ");
        g_string_append_printf(said, "- %.*s\n",
                               (int)(end ? end + 1 - sentence : (long)strlen(sentence)), sentence);
    }
    if (n > MOST_SAID)
        g_string_append_printf(said, "- and %u more in signals.csv\n", n - MOST_SAID);
}

// The replay by the network's own rules.
typedef struct {
    Whatif whatif; // without rules: the network has none
    TrialSettings settings;
    char *none;  // why there is no replay
    guint plain; // length of the settings without those of the replay
} Teams;

// What is measured for a pack, and what the source of its pages borrows.
typedef struct {
    Teams *teams;
    Estimates *e;
    Lookup *lookup;
    Counts *counts;
    int32_t *received;
    GPtrArray *waiting, *mixes, *items;
    Ends *ends;
    Counted *counted;
    Comparisons *comparisons;
    Signals *signals;
    TablesInput *inputs;
    const char **names;
} Measured;

// What is measured side by side.
typedef struct {
    const Session *a;
    Measured *m;
} Measuring;

static void measure_ends(const Session *a, Measured *m) {
    m->items = items_all(m->counted->data, a->catalogue, a->settings.confidence);
    m->ends = ends_measure(a->t, a->join, a->settings.confidence);
    m->lookup = lookup_new(m->e);
    m->mixes = mixunits_all(m->e);
}

static void measure_counts(const Session *a, Measured *m) {
    const Period *all = &g_array_index(m->e->periods, Period, 0);
    m->counts = counts_new(a->t, a->network, all->first, all->end, a->settings.has_span,
                           a->settings.confidence);
}

static void measure_waiting(const Session *a, Measured *m) {
    const Period *all = &g_array_index(m->e->periods, Period, 0);
    m->waiting = waiting_groups(a->t, a->network, m->received, 0, all, a->settings.confidence);
}

// Steps of measuring, for the bar, with the part of the time that is over after each of them where
// there are many records.
typedef enum { COUNTED, ESTIMATED, SIGNALLED, STEPS } Step;

static void step(const Session *a, Step done) {
    static const double part[STEPS] = {0.1, 0.25, 0.8};
    progress_part(a->progress, 0, part[done], 0);
}

static void measure_half(unsigned half, void *user) {
    const Measuring *w = user;
    const EstimateSettings *s = &w->a->settings;
    if (half == 0)
        w->m->comparisons = compare_all(w->m->counted, s->confidence, s->threads);
    else
        w->m->signals = signal_series(w->m->counted, s->confidence, s->threads);
}

// What tells units and changes from chance.
static void measure_signals(const Session *a, Measured *m) {
    const EstimateSettings *s = &a->settings;
    parallel_each(2, s->threads, measure_half, &(Measuring){a, m});
    signal_judge(m->signals, m->counted, m->comparisons);
    memory_give_back();
    step(a, SIGNALLED);
}

static void measure_teams(const Session *a, Measured *m) {
    Teams *teams = m->teams;
    GError *why = NULL;
    if (teams->whatif.rules && !whatif_run(&teams->whatif, a, &teams->settings, &why))
        teams->none = g_strdup_printf("No teams could be tried: %s.", why->message);
    g_clear_error(&why);
}

// The longest come first.
static void (*const stages[])(const Session *, Measured *) = {measure_teams, measure_counts,
                                                              measure_waiting, measure_ends};

static void measure_stage(unsigned i, void *user) {
    const Measuring *w = user;
    stages[i](w->a, w->m);
}

// Begins the pack as soon as there are estimates. The signals come before all else that is
// measured: the workbook, which takes longest, ends with them.
static Measured measure(const Session *a, Folder *f, Teams *teams, Pack **pack) {
    const EstimateSettings *s = &a->settings;
    const CountSpan span = {s->has_span, s->span_first, s->span_end};
    Counted *counted = counted_new(a->t, a->network, a->catalogue, &span, s->threads);
    step(a, COUNTED);
    Measured m = {.teams = teams,
                  .counted = counted,
                  .e = estimate_counted(counted, s),
                  .received = received_days(a),
                  .inputs = inputs_of(a),
                  .names = names_of(a)};
    *pack = pack_begin(f, m.e, a->network);
    step(a, ESTIMATED);
    measure_signals(a, &m);
    pack_signals(*pack, m.signals);
    Measuring all = {a, &m};
    parallel_each(G_N_ELEMENTS(stages), s->threads, measure_stage, &all);
    return m;
}

static void measured_free(Measured *m) {
    g_ptr_array_unref(m->mixes);
    g_ptr_array_unref(m->items);
    signal_free(m->signals);
    compare_free(m->comparisons);
    counted_free(m->counted);
    counts_free(m->counts);
    g_ptr_array_unref(m->waiting);
    g_free(m->received);
    lookup_free(m->lookup);
    ends_free(m->ends);
    estimate_free(m->e);
    g_free(m->inputs);
    g_free(m->names);
}

// Reads the rules, if the network has any. False: they can't be read.
static bool read_rules(const Session *a, const SessionOptions *o, Teams *teams, GError **error) {
    char *own = whatif_own_rules(a->network);
    const bool good = !own || whatif_rules(&teams->whatif, own, a->network, error);
    teams->settings =
        (TrialSettings){WHATIF_SEED, WHATIF_REPLICATES, (unsigned)o->threads, o->confidence};
    if (!own)
        teams->none = g_strdup("The network's folder has no replay.ini, so no teams were tried. "
                               "crossward replay --help says what to write in it.");
    g_free(own);
    return good;
}

static const char *place_of(const SessionOptions *o) {
    return o->out ? o->out : "audit-pack";
}

// With those of the replay, if there are rules for one.
static GPtrArray *settings_of(const Session *a, const SessionOptions *o, Teams *teams,
                              GError **error) {
    GPtrArray *list = settings_list(a, o, error);
    if (!list)
        return NULL;
    teams->plain = list->len;
    if (!teams->whatif.rules)
        return list;
    settings_add(list, "replay.seed", g_strdup_printf("%d", WHATIF_SEED));
    settings_add(list, "replay.replicates", g_strdup_printf("%d", WHATIF_REPLICATES));
    if (!settings_add_file(list, a->network, WHATIF_RULES, error))
        g_clear_pointer(&list, g_ptr_array_unref);
    return list;
}

static bool write_pack(const Session *a, const SessionOptions *o, Teams *teams, GPtrArray *settings,
                       const GnuplotFormats *formats, GString *said, GError **error) {
    Folder *f = folder_begin(place_of(o), o->force, error);
    if (!f)
        return false;
    Pack *pack;
    progress_stage(a->progress, "measuring", 0, "");
    Measured m = measure(a, f, teams, &pack);
    if (!teams->whatif.trial) // those of the replay stand before the NULL at the end
        g_ptr_array_remove_range(settings, teams->plain - 1, settings->len - teams->plain);
    const Source source = {.e = m.e,
                           .lookup = m.lookup,
                           .comparisons = m.comparisons,
                           .signals = m.signals,
                           .mixes = m.mixes,
                           .items = m.items,
                           .counts = m.counts,
                           .waiting = m.waiting,
                           .network = a->network,
                           .account = &a->account,
                           .findings = a->findings,
                           .received = a->received,
                           .ends = m.ends,
                           .trial = teams->whatif.trial,
                           .no_trial = teams->none,
                           .files = m.names,
                           .inputs = m.inputs,
                           .n_inputs = a->inputs->len,
                           .settings = (const char *const *)settings->pdata,
                           .tick = progress_tick,
                           .tick_user = a->progress,
                           .charts = !o->no_charts};
    say_signals(said, m.counted->data, &source, m.signals);
    if (a->progress)
        progress_stage(a->progress, "writing", 0, "charts");
    const bool good = pack_finish(pack, &source, formats, error) && folder_publish(f, error);
    folder_free(f);
    measured_free(&m);
    return good;
}

// The estimates alone, without what is small: for those outside the network.
static bool write_release(const Session *a, const SessionOptions *o, const GPtrArray *settings,
                          GString *said, GError **error) {
    Folder *f = folder_begin(place_of(o), o->force, error);
    if (!f)
        return false;
    progress_stage(a->progress, "measuring", 0, "");
    Estimates *e = estimate_all(a->t, a->network, a->catalogue, &a->settings);
    Hiding *hiding = hiding_new(e, (unsigned)o->suppress);
    Estimates *masked = hiding_masked(e, hiding);
    Lookup *lookup = lookup_new(masked);
    TablesInput *inputs = inputs_of(a);
    const char **names = names_of(a);
    const Source source = {.e = masked,
                           .lookup = lookup,
                           .network = a->network,
                           .account = &a->account,
                           .findings = a->findings,
                           .files = names,
                           .inputs = inputs,
                           .n_inputs = a->inputs->len,
                           .settings = (const char *const *)settings->pdata};
    g_string_append_printf(said,
                           "a release: of %u rows %u are shown; %u hold a count below %u, %u the "
                           "values of fewer, and %u would give others away\n",
                           e->rows->len, hiding->rows[HIDING_SHOWN], hiding->rows[HIDING_SMALL],
                           hiding->least, hiding->rows[HIDING_EXTREME],
                           hiding->rows[HIDING_DERIVED]);
    const bool good = release_write(f, &source, hiding, error) && folder_publish(f, error);
    folder_free(f);
    g_free(names);
    g_free(inputs);
    lookup_free(lookup);
    estimate_free(masked);
    hiding_free(hiding);
    estimate_free(e);
    return good;
}

static char *closing(void) {
    return g_strdup(
        "A release (--suppress N) holds report, summary.csv, .json and .xlsx, datapackage.json "
        "and\n"
        "manifest.json. A row with a count of 1 to N-1 is hidden whole in it, and so are rows "
        "from\n"
        "which such a count could be found by sums. It can't guard against a second release of a\n"
        "period that overlaps, with another N, or of later logs: who subtracts the one from the "
        "other\n"
        "may find what both hide.");
}

static bool parse(char **argv, SessionOptions *o, GError **error) {
    const GOptionEntry own[] = {
        {"suppress", 0, 0, G_OPTION_ARG_INT, &o->suppress,
         "write a release instead, for those outside: counts of 1 to N-1 are hidden, and what "
         "would give them away",
         "N"},
        {0},
    };
    const SessionCommand command = {
        .arguments = "LOG...",
        .about = "Reads logs, checks them, counts every indicator and writes the pack.",
        .uses = SESSION_PACK,
        .out = "folder to write the pack into (audit-pack)",
        .place = "DIR",
        .own = own,
        .words = 1,
        .closing = closing,
    };
    o->suppress = NO_RELEASE;
    if (!session_parse(argv, &command, o, error))
        return false;
    if (o->suppress == NO_RELEASE) {
        o->suppress = 0;
        return true;
    }
    if (o->suppress < HIDING_LEAST || o->suppress > HIDING_MOST)
        g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE,
                    "--suppress is a whole number from %d to %d: the smallest count above 0 that "
                    "may be seen",
                    HIDING_LEAST, HIDING_MOST);
    else if (o->chart_formats)
        g_set_error_literal(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE,
                            "--suppress writes no charts, so --chart-formats has nothing to "
                            "format");
    o->no_charts = true;
    return !*error;
}

// A release of so few records would tell of them by what groups it lists.
static int too_few(const Session *a, GError **error) {
    g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE,
                "records used: %" PRIu64 ", fewer than --suppress asks for: there is "
                "nothing to release",
                a->account.used);
    return COMMAND_USAGE;
}

int audit_run(int argc, char **argv, GError **error) {
    SessionOptions o = {0};
    Session a = {0};
    GnuplotFormats formats = {0};
    Teams teams = {0};
    GPtrArray *settings = NULL;
    GString *said = g_string_new(NULL);
    int code = COMMAND_USAGE;
    (void)argc;
    if (parse(argv, &o, error))
        code = COMMAND_DONE;
    const char *place = place_of(&o);
    if (code == COMMAND_DONE && !gnuplot_formats(o.chart_formats, &formats, error))
        code = COMMAND_USAGE;
    else if (code == COMMAND_DONE && !o.no_charts && !gnuplot_find(&formats, error))
        code = COMMAND_MISSING;
    if (code == COMMAND_DONE)
        code = session_load(&o, &a, error);
    if (code == COMMAND_DONE && !folder_may_begin(place, o.force, error))
        code = COMMAND_OUTPUT;
    a.progress = progress_new(!o.quiet);
    if (code == COMMAND_DONE && !*error)
        code = session_read(&a, error);
    if (code == COMMAND_DONE && !*error && !o.suppress && !read_rules(&a, &o, &teams, error))
        code = session_unreadable(*error) ? COMMAND_INPUT : COMMAND_USAGE;
    if (code == COMMAND_DONE && !*error && a.account.used > 0 &&
        a.account.used < (uint64_t)o.suppress)
        code = too_few(&a, error);
    if (code == COMMAND_DONE && !*error && !(settings = settings_of(&a, &o, &teams, error)))
        code = COMMAND_INPUT;
    if (code == COMMAND_DONE && !*error) {
        if (o.suppress ? !write_release(&a, &o, settings, said, error)
                       : !write_pack(&a, &o, &teams, settings, &formats, said, error))
            code = COMMAND_OUTPUT;
        else if (session_any_severe(a.findings))
            code = COMMAND_SEVERE;
    }
    progress_free(a.progress);
    g_string_append_printf(said, "the report is %s/report.html", place);
    if (!o.quiet && !*error && code <= COMMAND_SEVERE)
        session_say(&a, said->str);
    g_string_free(said, TRUE);
    whatif_clear(&teams.whatif);
    g_free(teams.none);
    if (settings)
        g_ptr_array_unref(settings);
    session_clear(&a);
    session_clear_options(&o);
    return code;
}
