// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward audit`: logs in, the pack out; and `crossward check`: the findings alone.
#include "command/command.h"
#include "command/rows.h"

#include "intake/reader.h"
#include "pack/folder.h"
#include "pack/report.h"
#include "pack/tables.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    char *network_dir, *period, *out, **logs;
    double confidence;
    int threads;
    gboolean no_charts, quiet, force;
} Options;

typedef struct {
    Network *network;
    GPtrArray *catalogue, *inputs;
    Transfers *t;
    Findings *findings;
    Account account;
    Condition *include;
    EstimateSettings settings;
} Audit;

static void clear_audit(Audit *a) {
    transfers_free(a->t);
    finding_list_free(a->findings);
    if (a->inputs)
        g_ptr_array_unref(a->inputs);
    if (a->catalogue)
        g_ptr_array_unref(a->catalogue);
    condition_free(a->include);
    network_free(a->network);
}

static void clear_options(Options *o) {
    g_free(o->network_dir);
    g_free(o->period);
    g_free(o->out);
    g_strfreev(o->logs);
}

static bool parse(int argc, char **argv, Options *o, const char *summary, GError **error) {
    GOptionEntry entries[] = {
        {"network", 0, 0, G_OPTION_ARG_FILENAME, &o->network_dir,
         "the network's folder: network.ini, units.csv, indicators.csv", "DIR"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &o->out, "where to write", "PATH"},
        {"period", 0, 0, G_OPTION_ARG_STRING, &o->period,
         "2031, 2031-Q2, 2031-07 or a span 2030-Q3..2031-Q2", "P"},
        {"confidence", 0, 0, G_OPTION_ARG_DOUBLE, &o->confidence, "of the limits (0.95)", "C"},
        {"threads", 0, 0, G_OPTION_ARG_INT, &o->threads, "accepted; the result never depends on it",
         "N"},
        {"no-charts", 0, 0, G_OPTION_ARG_NONE, &o->no_charts, "tables and report without charts",
         NULL},
        {"force", 0, 0, G_OPTION_ARG_NONE, &o->force, "replace an existing pack", NULL},
        {"quiet", 0, 0, G_OPTION_ARG_NONE, &o->quiet, "say nothing but errors", NULL},
        {G_OPTION_REMAINING, 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &o->logs, NULL, "LOG..."},
        {0},
    };
    o->confidence = 0.95;
    GOptionContext *context = g_option_context_new(NULL);
    g_option_context_set_summary(context, summary);
    g_option_context_add_main_entries(context, entries, NULL);
    char **copy = g_strdupv(argv);
    bool good = g_option_context_parse_strv(context, &copy, error);
    (void)argc;
    g_strfreev(copy);
    g_option_context_free(context);
    if (good && !o->logs) {
        g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_FAILED,
                    "name at least one log: a CSV file, a folder or -");
        good = false;
    }
    if (good && !(o->confidence > 0 && o->confidence < 1)) {
        g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE,
                    "--confidence lies between 0 and 1, for example 0.95");
        good = false;
    }
    return good;
}

// Rank of each input: by the day it was received where every one says so, else by their order.
static uint32_t *ranks(const GPtrArray *inputs) {
    uint32_t *rank = g_new(uint32_t, inputs->len);
    bool all = true;
    for (guint i = 0; i < inputs->len; i++)
        all = all && ((Input *)inputs->pdata[i])->received != WHEN_UNKNOWN;
    for (guint i = 0; i < inputs->len; i++) {
        const Input *in = inputs->pdata[i];
        rank[i] = i;
        if (all)
            rank[i] = (uint32_t)(in->received + 1000000) * 512 + i % 512;
    }
    return rank;
}

static int load(const Options *o, Audit *a, GError **error) {
    a->settings.confidence = o->confidence;
    a->network = network_load(o->network_dir, error);
    if (!a->network || !(a->catalogue = catalogue_load(a->network, error)))
        return COMMAND_USAGE;
    if (a->network->include && !(a->include = condition_parse(a->network->include, error))) {
        g_prefix_error(error, "%s/network.ini: [network] include: ", o->network_dir);
        return COMMAND_USAGE;
    }
    if (o->period) {
        a->settings.has_span = true;
        if (!period_parse(o->period, a->network->year_starts, &a->settings.span_first,
                          &a->settings.span_end, error))
            return COMMAND_USAGE;
    }
    if (!(a->inputs = reader_inputs(o->logs, error)))
        return COMMAND_INPUT;
    a->t = transfers_new();
    a->findings = finding_list_new();
    return COMMAND_DONE;
}

static int read_logs(Audit *a, GError **error) {
    uint64_t rows = 0;
    GString *refused = g_string_new(NULL);
    for (guint i = 0; i < a->inputs->len; i++) {
        GError *why = NULL;
        if (!reader_read(a->inputs->pdata[i], (uint16_t)i, a->network, a->t, a->findings, &why)) {
            const bool setting = g_error_matches(why, READER_ERROR, READER_ERROR_SETTING);
            g_string_append_printf(refused, "%s%s", refused->len ? "\n" : "", why->message);
            if (setting) {
                g_propagate_error(error, why);
                g_string_free(refused, TRUE);
                return COMMAND_USAGE;
            }
            g_clear_error(&why);
        }
        rows += ((Input *)a->inputs->pdata[i])->rows;
    }
    if (refused->len)
        g_set_error(error, READER_ERROR, READER_ERROR_REFUSED, "%s", refused->str);
    const bool good = refused->len == 0;
    g_string_free(refused, TRUE);
    if (!good)
        return COMMAND_INPUT;
    uint32_t *rank = ranks(a->inputs);
    const int32_t last =
        a->settings.has_span ? period_first_day(a->settings.span_end) - 1 : WHEN_UNKNOWN;
    a->account = cohort_make(a->t, a->network, rank, a->include, last, rows, a->findings);
    g_free(rank);
    finding_sort(a->findings);
    if (!cohort_account_holds(&a->account))
        g_error("the account of rows does not add up");
    return rows_fill(a->inputs, a->findings, error) ? COMMAND_DONE : COMMAND_INPUT;
}

static bool write_text(Folder *f, const char *name, GString *text, GError **error) {
    const bool good = folder_write(f, name, text->str, text->len, error);
    g_string_free(text, TRUE);
    return good;
}

static GString *manifest(const Audit *a, const Options *o) {
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

static bool write_pack(const Audit *a, const Options *o, GError **error) {
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

static bool any_severe(const Findings *findings) {
    for (guint i = 0; i < findings->findings->len; i++)
        if (g_array_index(findings->findings, Finding, i).severity == SEVERITY_SEVERE)
            return true;
    return false;
}

static void say(const Audit *a, const char *out) {
    const Account *c = &a->account;
    g_printerr("read %" G_GUINT64_FORMAT " rows = used %" G_GUINT64_FORMAT
               " + put aside %" G_GUINT64_FORMAT " + repeated %" G_GUINT64_FORMAT
               " + merged %" G_GUINT64_FORMAT " + left out %" G_GUINT64_FORMAT
               "; %u findings\n%s\n",
               c->read, c->used, c->put_aside, c->repeated, c->merged, c->left_out,
               a->findings->findings->len, out);
}

int audit_run(int argc, char **argv, GError **error) {
    Options o = {0};
    Audit a = {0};
    int code = COMMAND_USAGE;
    if (parse(argc, argv, &o,
              "Reads logs, checks them, counts every indicator and writes the pack.", error))
        code = load(&o, &a, error);
    if (code == COMMAND_DONE && !*error)
        code = read_logs(&a, error);
    if (code == COMMAND_DONE && !*error) {
        if (!write_pack(&a, &o, error))
            code = COMMAND_OUTPUT;
        else if (any_severe(a.findings))
            code = COMMAND_SEVERE;
        char *where = g_strdup_printf("the report is %s/report.html", o.out ? o.out : "audit-pack");
        if (!o.quiet && !*error)
            say(&a, where);
        g_free(where);
    }
    clear_audit(&a);
    clear_options(&o);
    return code;
}

int check_run(int argc, char **argv, GError **error) {
    Options o = {0};
    Audit a = {0};
    int code = COMMAND_USAGE;
    if (parse(argc, argv, &o, "Reads logs and writes every finding as CSV.", error))
        code = load(&o, &a, error);
    if (code == COMMAND_DONE && !*error)
        code = read_logs(&a, error);
    if (code == COMMAND_DONE && !*error) {
        const char **names = g_new(const char *, a.inputs->len);
        for (guint i = 0; i < a.inputs->len; i++)
            names[i] = ((Input *)a.inputs->pdata[i])->name;
        GString *text = tables_findings(a.findings, names);
        const bool good =
            o.out ? g_file_set_contents(o.out, text->str, (gssize)text->len, error)
                  : fwrite(text->str, 1, text->len, stdout) == text->len && fflush(stdout) == 0;
        code = !good ? COMMAND_OUTPUT : any_severe(a.findings) ? COMMAND_SEVERE : COMMAND_DONE;
        if (!good && !*error)
            g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_IO, "standard output cannot be written");
        if (!o.quiet && good)
            say(&a, "findings are listed by file and line");
        g_string_free(text, TRUE);
        g_free(names);
    }
    clear_audit(&a);
    clear_options(&o);
    return code;
}
