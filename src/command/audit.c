// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward audit`: logs in, the pack out.
#include "command/command.h"
#include "command/session.h"

#include "pack/folder.h"
#include "pack/report.h"
#include "pack/tables.h"

static bool write_text(Folder *f, const char *name, GString *text, GError **error) {
    const bool good = folder_write(f, name, text->str, text->len, error);
    g_string_free(text, TRUE);
    return good;
}

static GString *manifest(const Session *a, const SessionOptions *o) {
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
    GString *text = tables_manifest(inputs, a->inputs->len, &a->account, settings);
    g_free(inputs);
    return text;
}

static bool write_pack(const Session *a, const SessionOptions *o, GError **error) {
    Folder *f = folder_begin(o->out ? o->out : "audit-pack", o->force, error);
    if (!f)
        return false;
    const char **names = g_new(const char *, a->inputs->len);
    for (guint i = 0; i < a->inputs->len; i++)
        names[i] = ((Input *)a->inputs->pdata[i])->name;
    Estimates *e = estimate_all(a->t, a->network, a->catalogue, &a->settings);
    const bool good =
        write_text(f, "summary.csv", tables_summary(e), error) &&
        write_text(f, "findings.csv", tables_findings(a->findings, names), error) &&
        write_text(f, "put-aside.csv", tables_put_aside(a->findings, names), error) &&
        write_text(f, "manifest.json", manifest(a, o), error) &&
        write_text(f, "report.html", report_html(e, a->network, &a->account), error) &&
        folder_publish(f, error);
    folder_free(f);
    estimate_free(e);
    g_free(names);
    return good;
}

int audit_run(int argc, char **argv, GError **error) {
    SessionOptions o = {0};
    Session a = {0};
    int code = COMMAND_USAGE;
    if (session_parse(argc, argv, &o,
                      "Reads logs, checks them, counts every indicator and writes the pack.",
                      error))
        code = session_load(&o, &a, error);
    if (code == COMMAND_DONE && !*error)
        code = session_read(&a, error);
    if (code == COMMAND_DONE && !*error) {
        if (!write_pack(&a, &o, error))
            code = COMMAND_OUTPUT;
        else if (session_any_severe(a.findings))
            code = COMMAND_SEVERE;
        char *where = g_strdup_printf("the report is %s/report.html", o.out ? o.out : "audit-pack");
        if (!o.quiet && !*error)
            session_say(&a, where);
        g_free(where);
    }
    session_clear(&a);
    session_clear_options(&o);
    return code;
}
