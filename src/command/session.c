// SPDX-License-Identifier: GPL-3.0-or-later
// Logs in, cohort out, for every command that reads logs.
#include "command/session.h"

#include "base/memory.h"
#include "command/command.h"
#include "command/refusals.h"
#include "command/rows.h"

#include "intake/reader.h"
#include "intake/unitlist.h"

#include <gio/gio.h>
#include <glib/gstdio.h>

#include <string.h>

void session_clear(Session *a) {
    transfers_free(a->t);
    join_free(a->join);
    received_free(a->received);
    finding_list_free(a->findings);
    if (a->inputs)
        g_ptr_array_unref(a->inputs);
    if (a->catalogue)
        g_ptr_array_unref(a->catalogue);
    condition_free(a->include);
    network_free(a->network);
}

void session_clear_options(SessionOptions *o) {
    g_free(o->network_dir);
    g_free(o->period);
    g_free(o->out);
    g_free(o->chart_formats);
    g_strfreev(o->logs);
}

enum { SHARED = 8, MOST_THREADS = 1024 };

// A shared option; the common ones are taken by each command.
typedef struct {
    unsigned use;
    bool common;
    GOptionEntry entry;
} Shared;

static void list_shared(SessionOptions *o, Shared shared[SHARED]) {
    const Shared list[SHARED] = {
        {SESSION_NETWORK,
         true,
         {"network", 0, 0, G_OPTION_ARG_FILENAME, &o->network_dir,
          "the network's folder: network.ini, units.csv, indicators.csv, mappings", "DIR"}},
        {SESSION_PERIOD,
         true,
         {"period", 0, 0, G_OPTION_ARG_STRING, &o->period,
          "2031, 2031-Q2, 2031-07 or a span 2030-Q3..2031-Q2 (all)", "P"}},
        {SESSION_CONFIDENCE,
         true,
         {"confidence", 0, 0, G_OPTION_ARG_DOUBLE, &o->confidence, "of the limits (0.95)", "C"}},
        {SESSION_THREADS,
         true,
         {"threads", 0, 0, G_OPTION_ARG_INT, &o->threads,
          "to work with (one a processor); the result does not depend on it", "N"}},
        {SESSION_NO_CHARTS,
         true,
         {"no-charts", 0, 0, G_OPTION_ARG_NONE, &o->no_charts, "write no charts", NULL}},
        {SESSION_FORMATS,
         false,
         {"chart-formats", 0, 0, G_OPTION_ARG_STRING, &o->chart_formats,
          "of the files in charts/: svg, with png and pdf if asked (svg)", "svg,png,pdf"}},
        {SESSION_SKIP,
         false,
         {"skip-refused", 0, 0, G_OPTION_ARG_NONE, &o->skip_refused,
          "go on without logs that are refused, and say so", NULL}},
        {SESSION_FORCE,
         false,
         {"force", 0, 0, G_OPTION_ARG_NONE, &o->force, "replace what an earlier run wrote", NULL}},
    };
    memcpy(shared, list, sizeof list);
}

// The options of a command: its own, then those of the shared ones that it takes. Where it makes
// nothing of one, that one is hidden and only noted in idle: a text, or the word for a flag.
static GOptionGroup *options_of(const SessionCommand *c, SessionOptions *o, Shared shared[SHARED],
                                char *idle[SHARED], gboolean flags[SHARED]) {
    GOptionGroup *group = g_option_group_new("main", "Options:", "", NULL, NULL);
    const GOptionEntry out[] = {{"out", 0, 0, G_OPTION_ARG_FILENAME, &o->out, c->out, c->place},
                                {0}};
    const GOptionEntry rest[] = {
        {"quiet", 0, 0, G_OPTION_ARG_NONE, &o->quiet, "say nothing but errors", NULL},
        {G_OPTION_REMAINING, 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &o->logs, NULL, NULL},
        {0}};
    if (c->own)
        g_option_group_add_entries(group, c->own);
    if (c->out)
        g_option_group_add_entries(group, out);
    list_shared(o, shared);
    for (size_t i = 0; i < SHARED; i++) {
        GOptionEntry entry[] = {shared[i].entry, {0}};
        if (!(c->uses & shared[i].use)) {
            const bool flag = entry->arg == G_OPTION_ARG_NONE;
            entry->flags = G_OPTION_FLAG_HIDDEN;
            entry->arg = flag ? G_OPTION_ARG_NONE : G_OPTION_ARG_STRING;
            entry->arg_data = flag ? (void *)&flags[i] : (void *)&idle[i];
        }
        if ((c->uses & shared[i].use) || shared[i].common)
            g_option_group_add_entries(group, entry);
    }
    g_option_group_add_entries(group, rest);
    return group;
}

static bool wrong(GError **error, const char *why) {
    g_set_error_literal(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE, why);
    return false;
}

bool session_sure(double confidence, GError **error) {
    return (confidence >= 0.01 && confidence <= 0.999999) ||
           wrong(error, "--confidence lies from 0.01 to 0.999999, for example 0.95");
}

bool session_names(const char *option, const char *name, GError **error) {
    if (*name && strcmp(name, "-") != 0)
        return true;
    g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE,
                "%s takes a name, and '%s' is none", option, name);
    return false;
}

bool session_parse(char **argv, const SessionCommand *c, SessionOptions *o, GError **error) {
    GOptionContext *context = g_option_context_new(c->arguments);
    char **copy = g_strdupv(argv);
    Shared shared[SHARED];
    char *idle[SHARED] = {0};
    gboolean flags[SHARED] = {0};
    o->confidence = 0.95;
    o->threads = (int)MIN(g_get_num_processors(), MOST_THREADS);
    g_option_context_set_summary(context, c->about);
    char *closing = c->closing ? c->closing() : NULL;
    g_option_context_set_description(context, closing);
    g_free(closing);
    g_option_context_set_main_group(context, options_of(c, o, shared, idle, flags));
    const bool good = g_option_context_parse_strv(context, &copy, error);
    g_strfreev(copy);
    g_option_context_free(context);
    for (size_t i = 0; i < SHARED; i++) {
        if (good && !o->quiet && (idle[i] || flags[i]))
            g_printerr("--%s changes nothing here\n", shared[i].entry.long_name);
        g_free(idle[i]);
    }
    if (!good)
        return false;
    if (c->words > 0 && (!o->logs || g_strv_length(o->logs) < c->words))
        return wrong(error, c->words == 1 ? "name at least one log: a CSV file, a folder or -"
                                          : "name an indicator, then at least one log: a CSV "
                                            "file, a folder or -");
    if (!session_sure(o->confidence, error) || (o->out && !session_names("--out", o->out, error)))
        return false;
    if (o->threads < 1 || o->threads > MOST_THREADS)
        return wrong(error, "--threads is a whole number from 1 to 1024");
    return true;
}

static int by_day_received(gconstpointer a, gconstpointer b, gpointer data) {
    const GPtrArray *inputs = data;
    const guint i = *(const guint *)a, k = *(const guint *)b;
    const int32_t x = ((Input *)inputs->pdata[i])->received,
                  y = ((Input *)inputs->pdata[k])->received;
    return x != y ? (x < y ? -1 : 1) : (i > k) - (i < k);
}

// Rank of each input: by the day it was received where every one says so, else by their order.
static uint32_t *ranks(GPtrArray *inputs) {
    guint *order = g_new(guint, inputs->len);
    bool all = true;
    for (guint i = 0; i < inputs->len; i++) {
        order[i] = i;
        all = all && ((Input *)inputs->pdata[i])->received != WHEN_UNKNOWN;
    }
    if (all)
        g_qsort_with_data(order, (gint)inputs->len, sizeof *order, by_day_received, inputs);
    uint32_t *rank = g_new(uint32_t, inputs->len);
    for (guint i = 0; i < inputs->len; i++)
        rank[order[i]] = i;
    g_free(order);
    return rank;
}

// Whether a setting's file is there but can't be read (also a time zone's), so that nothing is
// wrong with what it says.
bool session_unreadable(const GError *error) {
    return (error->domain == G_FILE_ERROR && error->code != G_FILE_ERROR_INVAL) ||
           g_error_matches(error, G_IO_ERROR, G_IO_ERROR_FAILED);
}

bool session_may_write(const Session *a, const char *path, GError **error) {
    const bool log = inputs_include(a->inputs, path);
    if (log)
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_EXIST,
                    "%s is a log that is read here, so it is not replaced", path);
    return !log;
}

static GPtrArray *find_inputs(const SessionOptions *o, GError **error) {
    GPtrArray *passed = g_ptr_array_new_with_free_func(g_free);
    GPtrArray *inputs = inputs_find(o->logs, passed, error);
    for (guint i = 0; !o->quiet && i < passed->len; i++)
        g_printerr("passed over: %s\n", (const char *)passed->pdata[i]);
    g_ptr_array_unref(passed);
    return inputs;
}

int session_load(const SessionOptions *o, Session *a, GError **error) {
    a->settings.confidence = o->confidence;
    a->settings.threads = o->threads;
    a->reading.threads = (unsigned)a->settings.threads;
    a->skip_refused = o->skip_refused;
    a->quiet = o->quiet;
    a->unguided = o->network_dir ? NULL : o->logs;
    a->network = network_load(o->network_dir, error);
    if (!a->network || !(a->catalogue = catalogue_load(a->network, error)))
        return session_unreadable(*error) ? COMMAND_INPUT : COMMAND_USAGE;
    if (a->network->include && !(a->include = condition_parse(a->network->include, error))) {
        g_prefix_error(error, "%s/network.ini: [network] include: ", o->network_dir);
        return COMMAND_USAGE;
    }
    if (o->period && strcmp(o->period, "all") != 0) {
        a->settings.has_span = true;
        if (!period_parse(o->period, a->network->year_starts, &a->settings.span_first,
                          &a->settings.span_end, error))
            return COMMAND_USAGE;
    }
    if (!(a->inputs = find_inputs(o, error)))
        return COMMAND_INPUT;
    if (o->out && !session_may_write(a, o->out, error))
        return COMMAND_OUTPUT;
    a->t = transfers_new();
    a->findings = finding_list_new();
    return COMMAND_DONE;
}

// Leaves a refused log out, as the user asked: its rows are in no account, a finding says so.
static void skip(Session *a, guint file, const GError *why) {
    char *line = refusals_line(why->message);
    const Finding f = {
        file, 1, 0, FIELD_COUNT, SEVERITY_SEVERE, "refused", NULL, g_intern_string(line)};
    finding_add(a->findings, &f, NULL, 0);
    progress_clear(a->progress);
    g_printerr("left out: %s\n", line);
    g_free(line);
}

// How far the reading is: bytes of all logs (0 if that is not known), of those before the one at
// hand, and the rows of those.
typedef struct {
    Progress *progress;
    double bytes, before;
    guint files;
    uint64_t rows;
} ReadSoFar;

static void tick(void *user, uint64_t bytes, uint64_t rows) {
    const ReadSoFar *far = user;
    progress_part(far->progress, far->files,
                  far->bytes > 0 ? (far->before + (double)bytes) / far->bytes : 0,
                  far->rows + rows);
}

static double size_of(const Input *input) {
    GStatBuf about;
    return g_stat(input->path, &about) == 0 ? (double)about.st_size : 0;
}

static void start_progress(Session *a, ReadSoFar *far) {
    far->progress = a->progress;
    for (guint i = 0; i < a->inputs->len; i++)
        far->bytes += size_of(a->inputs->pdata[i]);
    progress_stage(a->progress, "reading", a->inputs->len, "files");
    a->reading.tick = tick;
    a->reading.tick_user = far;
}

// What is said of logs that were refused, messages and names.
static void say_refused(const Session *a, const GPtrArray *messages, const GPtrArray *names,
                        GError **error) {
    char *meant = a->unguided ? refusals_meant(a->unguided, messages, names) : NULL;
    char *text = meant ? NULL : refusals_text(messages);
    g_set_error_literal(error, READER_ERROR, READER_ERROR_REFUSED, meant ? meant : text);
    g_free(meant);
    g_free(text);
}

// Reads all logs; of those that are refused, all reasons are told. Adds their rows to *rows.
static int read_logs(Session *a, uint64_t *rows, GError **error) {
    GPtrArray *refused = g_ptr_array_new_with_free_func(g_free), *names = g_ptr_array_new();
    ReadSoFar far = {0};
    int code = COMMAND_DONE;
    guint skipped = 0;
    start_progress(a, &far);
    for (guint i = 0; i < a->inputs->len && code != COMMAND_USAGE; i++) {
        Input *input = a->inputs->pdata[i];
        GError *why = NULL;
        if (!reader_read(input, (uint16_t)i, a->network, &a->reading, a->t, a->findings, &why)) {
            g_ptr_array_add(refused, g_strdup(why->message));
            g_ptr_array_add(names, input->name);
            if (a->skip_refused && g_error_matches(why, READER_ERROR, READER_ERROR_REFUSED)) {
                skip(a, i, why);
                skipped++;
            } else
                code = g_error_matches(why, READER_ERROR, READER_ERROR_SETTING) ? COMMAND_USAGE
                                                                                : COMMAND_INPUT;
            g_clear_error(&why);
        }
        *rows += input->rows;
        far.rows = *rows;
        far.files = i + 1;
        far.before += size_of(input);
    }
    a->reading.tick = NULL;
    if (skipped == a->inputs->len)
        code = COMMAND_INPUT; // nothing is left
    if (code != COMMAND_DONE)
        say_refused(a, refused, names, error);
    g_ptr_array_unref(refused);
    g_ptr_array_unref(names);
    return code;
}

// The same, seen on a terminal whatever the command.
static int read_shown(Session *a, uint64_t *rows, GError **error) {
    if (a->progress)
        return read_logs(a, rows, error);
    a->progress = progress_new(!a->quiet);
    const int code = read_logs(a, rows, error);
    g_clear_pointer(&a->progress, progress_free);
    return code;
}

int session_read(Session *a, GError **error) {
    uint64_t rows = 0;
    const int code = read_shown(a, &rows, error);
    if (code != COMMAND_DONE)
        return code;
    if (!transfers_seal(a->t)) {
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT, "out of memory after %zu transfers",
                    a->t->n);
        return COMMAND_INPUT;
    }
    if (!unitlist_believable(a->t, error))
        return COMMAND_INPUT;
    unitlist_check(a->t, a->network, a->findings);
    uint32_t *rank = ranks(a->inputs);
    const char **names = g_new(const char *, a->inputs->len);
    for (guint i = 0; i < a->inputs->len; i++)
        names[i] = ((Input *)a->inputs->pdata[i])->name;
    const int32_t last =
        a->settings.has_span ? period_first_day(a->settings.span_end) - 1 : WHEN_UNKNOWN;
    const CohortSettings settings = {rank, names, a->include, last, rows, a->settings.threads};
    a->join = join_new();
    a->account = cohort_make(a->t, a->network, &settings, a->join, &a->received, a->findings);
    g_free(rank);
    g_free(names);
    if (!a->keep_ids)
        transfers_drop_ids(a->t);
    memory_give_back();
    finding_sort(a->findings);
    if (!cohort_account_holds(&a->account))
        g_error("the account of rows does not add up");
    return rows_fill(a->inputs, a->findings, error) ? COMMAND_DONE : COMMAND_INPUT;
}

bool session_any_severe(const Findings *findings) {
    for (guint i = 0; i < findings->findings->len; i++)
        if (g_array_index(findings->findings, Finding, i).severity == SEVERITY_SEVERE)
            return true;
    return false;
}

void session_say(const Session *a, const char *out) {
    const Account *c = &a->account;
    g_printerr(
        "read %" G_GUINT64_FORMAT " row%s = used %" G_GUINT64_FORMAT
        " + put aside %" G_GUINT64_FORMAT " + repeated %" G_GUINT64_FORMAT
        " + merged %" G_GUINT64_FORMAT " + left out %" G_GUINT64_FORMAT "; %u finding%s\n%s\n",
        c->read, c->read == 1 ? "" : "s", c->used, c->put_aside, c->repeated, c->merged,
        c->left_out, a->findings->findings->len, a->findings->findings->len == 1 ? "" : "s", out);
}
