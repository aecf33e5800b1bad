// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward check`: the findings about the logs.
#include "command/command.h"
#include "command/digest.h"
#include "command/session.h"

#include "base/outfile.h"
#include "pack/tables.h"

#include <stdio.h>
#include <unistd.h>

static void keep(gpointer text, const char *piece, gsize length) {
    g_string_append_len(text, piece, (gssize)length);
}

static void print(gpointer none, const char *piece, gsize length) {
    (void)none;
    fwrite(piece, 1, length, stdout); // what fails shows in ferror
}

// Writes findings.csv to the asked file, or to standard output unless that is a terminal, where a
// person reads the digest instead.
static bool write_findings(const Session *a, const char *path, GError **error) {
    if (!path && isatty(STDOUT_FILENO))
        return true;
    const char **names = g_new(const char *, a->inputs->len);
    for (guint i = 0; i < a->inputs->len; i++)
        names[i] = ((Input *)a->inputs->pdata[i])->name;
    GString *text = path ? g_string_new(NULL) : NULL;
    tables_findings(a->findings, names, path ? keep : print, text);
    g_free(names);
    const bool good = path ? outfile_write(path, text->str, text->len, error)
                           : fflush(stdout) == 0 && !ferror(stdout);
    if (!path && !good)
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_IO, "standard output cannot be written");
    if (text)
        g_string_free(text, TRUE);
    return good;
}

static const SessionCommand command = {
    .arguments = "LOG...",
    .about = "Reads logs; writes every finding as CSV (into the file that --out names, or to "
             "standard output\nunless that is a terminal) and a summary for a person.",
    .uses = SESSION_READING,
    .out = "file to write the findings into, as CSV",
    .place = "FILE",
    .words = 1,
};

// Whether findings may be written there: what is no older findings.csv, say a log, is not replaced.
static bool may_write(const char *path, GError **error) {
    static const char head[] = "file,line,column,";
    char *text = NULL;
    if (g_file_test(path, G_FILE_TEST_IS_REGULAR) && g_file_get_contents(path, &text, NULL, NULL) &&
        *text && !g_str_has_prefix(text, head))
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_EXIST,
                    "%s is there already and holds no findings, so it is not replaced", path);
    g_free(text);
    return !*error;
}

int check_run(int argc, char **argv, GError **error) {
    SessionOptions o = {0};
    Session a = {0};
    int code = COMMAND_USAGE;
    (void)argc;
    if (session_parse(argv, &command, &o, error))
        code = session_load(&o, &a, error);
    if (code == COMMAND_DONE && o.out && !may_write(o.out, error))
        code = COMMAND_OUTPUT;
    if (code == COMMAND_DONE && !*error)
        code = session_read(&a, error);
    if (code == COMMAND_DONE && !*error) {
        if (!write_findings(&a, o.out, error))
            code = COMMAND_OUTPUT;
        else if (session_any_severe(a.findings))
            code = COMMAND_SEVERE;
        if (!o.quiet && !*error) {
            GString *text = digest_text(a.inputs, a.findings);
            g_printerr("%s", text->str);
            g_string_free(text, TRUE);
            session_say(&a, o.out ? "every finding is in the file that --out names"
                            : isatty(STDOUT_FILENO) ? "`--out FILE` writes every finding as CSV"
                                                    : "every finding is on standard output");
        }
    }
    session_clear(&a);
    session_clear_options(&o);
    return code;
}
