// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward export`: the cohort and its counts, for those who count for themselves.
#include "command/command.h"
#include "command/session.h"
#include "command/settings.h"

#include "base/outfile.h"
#include "pack/database.h"
#include "pack/tidytables.h"

#include <string.h>

typedef struct {
    char *sqlite, *tables;
} Targets;

// What both targets are written from.
typedef struct {
    Estimates *estimates;
    TablesInput *inputs;
    const char *const *settings;
} Made;

static bool write_database(const Session *a, const SessionOptions *o, const char *path,
                           const Made *made, GError **error) {
    const DatabaseContent content = {.estimates = made->estimates,
                                     .settings = &a->settings,
                                     .network = a->network,
                                     .findings = a->findings,
                                     .account = &a->account,
                                     .inputs = made->inputs,
                                     .n_inputs = a->inputs->len,
                                     .meta = made->settings};
    return database_write(path, o->force, &content, error);
}

static bool write_tables(const Session *a, Folder *folder, const Made *made, GError **error) {
    const TidyTables content = {.estimates = made->estimates,
                                .network = a->network,
                                .account = &a->account,
                                .inputs = made->inputs,
                                .n_inputs = a->inputs->len,
                                .settings = made->settings};
    return tidytables_write(folder, &content, error);
}

// Both are written before either is put in its place.
static bool write_both(const Session *a, const SessionOptions *o, const Targets *to,
                       const Made *made, GError **error) {
    Folder *folder = to->tables ? folder_begin(to->tables, o->force, error) : NULL;
    const bool good = (!to->tables || (folder && write_tables(a, folder, made, error))) &&
                      (!to->sqlite || write_database(a, o, to->sqlite, made, error)) &&
                      (!to->tables || folder_publish(folder, error));
    folder_free(folder);
    return good;
}

static bool write_targets(const Session *a, const SessionOptions *o, const Targets *to,
                          const GPtrArray *settings, GError **error) {
    Made made = {estimate_all(a->t, a->network, a->catalogue, &a->settings),
                 g_new(TablesInput, a->inputs->len), (const char *const *)settings->pdata};
    for (guint i = 0; i < a->inputs->len; i++) {
        const Input *in = a->inputs->pdata[i];
        made.inputs[i] = (TablesInput){in->name, in->sha256, in->bytes, in->rows, false};
    }
    const bool good = write_both(a, o, to, &made, error);
    estimate_free(made.estimates);
    g_free(made.inputs);
    return good;
}

static bool same_place(const Targets *to) {
    char *file = outfile_place(to->sqlite), *folder = outfile_place(to->tables);
    const bool same = !strcmp(file, folder);
    g_free(file);
    g_free(folder);
    return same;
}

static bool parse(char **argv, SessionOptions *o, Targets *to, GError **error) {
    const GOptionEntry own[] = {
        {"sqlite", 0, 0, G_OPTION_ARG_FILENAME, &to->sqlite,
         "an SQLite database: one row is one transfer, so keep it as carefully as the logs",
         "FILE"},
        {"tables", 0, 0, G_OPTION_ARG_FILENAME, &to->tables,
         "CSV of counts, estimates and definitions with a data package; no row is about one "
         "transfer",
         "DIR"},
        {0},
    };
    const SessionCommand command = {
        .arguments = "LOG...",
        .about = "Reads logs and writes the cohort and every count as an SQLite database, or "
                 "counts and estimates\nas CSV tables, or both.",
        .uses = SESSION_READING | SESSION_CONFIDENCE | SESSION_FORCE,
        .own = own,
        .words = 1,
    };
    if (!session_parse(argv, &command, o, error))
        return false;
    if ((to->sqlite && !session_names("--sqlite", to->sqlite, error)) ||
        (to->tables && !session_names("--tables", to->tables, error)))
        return false;
    if (!to->sqlite && !to->tables)
        g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_FAILED,
                    "say what to write: --sqlite FILE, --tables DIR or both");
    else if (to->sqlite && to->tables && same_place(to))
        g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE,
                    "--sqlite and --tables name the same: give each a name of its own");
    return !*error;
}

int export_run(int argc, char **argv, GError **error) {
    SessionOptions o = {0};
    Session a = {.keep_ids = true};
    Targets to = {0};
    int code = COMMAND_USAGE;
    (void)argc;
    if (parse(argv, &o, &to, error))
        code = session_load(&o, &a, error);
    if (code == COMMAND_DONE && to.sqlite &&
        !(session_may_write(&a, to.sqlite, error) && database_may_write(to.sqlite, o.force, error)))
        code = COMMAND_OUTPUT;
    if (code == COMMAND_DONE && to.tables && !folder_may_begin(to.tables, o.force, error))
        code = COMMAND_OUTPUT;
    if (code == COMMAND_DONE && !*error)
        code = session_read(&a, error);
    GPtrArray *settings = NULL;
    if (code == COMMAND_DONE && !*error && !(settings = settings_list(&a, &o, error)))
        code = COMMAND_INPUT;
    if (code == COMMAND_DONE && !*error) {
        if (!write_targets(&a, &o, &to, settings, error))
            code = COMMAND_OUTPUT;
        else if (session_any_severe(a.findings))
            code = COMMAND_SEVERE;
        char *where = g_strconcat(to.sqlite ? "the database is " : "", to.sqlite ? to.sqlite : "",
                                  to.sqlite && to.tables ? "; " : "",
                                  to.tables ? "the tables are in " : "", to.tables, NULL);
        if (!o.quiet && !*error)
            session_say(&a, where);
        g_free(where);
    }
    if (settings)
        g_ptr_array_unref(settings);
    session_clear(&a);
    session_clear_options(&o);
    g_free(to.sqlite);
    g_free(to.tables);
    return code;
}
