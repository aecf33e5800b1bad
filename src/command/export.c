// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward export`: the cohort and its counts, for those who count for themselves.
#include "command/command.h"
#include "command/session.h"

#include "pack/database.h"

typedef struct {
    char *sqlite;
} Targets;

static bool write_targets(const Session *a, const SessionOptions *o, const Targets *to,
                          GError **error) {
    TablesInput *inputs = g_new(TablesInput, a->inputs->len);
    for (guint i = 0; i < a->inputs->len; i++) {
        const Input *in = a->inputs->pdata[i];
        inputs[i] = (TablesInput){in->name, in->sha256, in->bytes, in->rows};
    }
    char confidence[G_ASCII_DTOSTR_BUF_SIZE];
    g_ascii_formatd(confidence, sizeof confidence, "%.12g", o->confidence);
    const char *settings[] = {
        "confidence", confidence,       "timezone", a->network->timezone,
        "network",    a->network->name, "period",   o->period ? o->period : "all",
        NULL};
    Estimates *e = estimate_all(a->t, a->network, a->catalogue, &a->settings);
    const DatabaseContent content = {e,           &a->settings, a->network,     a->findings,
                                     &a->account, inputs,       a->inputs->len, settings};
    const bool good = database_write(to->sqlite, o->force, &content, error);
    estimate_free(e);
    g_free(inputs);
    return good;
}

static bool parse(int argc, char **argv, SessionOptions *o, Targets *to, GError **error) {
    const GOptionEntry own[] = {
        {"sqlite", 0, 0, G_OPTION_ARG_FILENAME, &to->sqlite,
         "an SQLite database: one row is one transfer, so keep it as carefully as the logs",
         "FILE"},
        {0},
    };
    if (!session_parse_with(argc, argv, o, own,
                            "Reads logs and writes the cohort and every count as an SQLite "
                            "database.",
                            error))
        return false;
    if (!to->sqlite)
        g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_FAILED,
                    "say what to write: --sqlite FILE");
    return to->sqlite != NULL;
}

int export_run(int argc, char **argv, GError **error) {
    SessionOptions o = {0};
    Session a = {0};
    Targets to = {0};
    int code = COMMAND_USAGE;
    if (parse(argc, argv, &o, &to, error))
        code = session_load(&o, &a, error);
    if (code == COMMAND_DONE && !*error)
        code = session_read(&a, error);
    if (code == COMMAND_DONE && !*error) {
        if (!write_targets(&a, &o, &to, error))
            code = COMMAND_OUTPUT;
        else if (session_any_severe(a.findings))
            code = COMMAND_SEVERE;
        char *where = g_strdup_printf("the database is %s", to.sqlite);
        if (!o.quiet && !*error)
            session_say(&a, where);
        g_free(where);
    }
    session_clear(&a);
    session_clear_options(&o);
    g_free(to.sqlite);
    return code;
}
