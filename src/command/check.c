// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward check`: the findings about the logs.
#include "command/command.h"
#include "command/session.h"

#include "pack/tables.h"

#include <stdio.h>

int check_run(int argc, char **argv, GError **error) {
    SessionOptions o = {0};
    Session a = {0};
    int code = COMMAND_USAGE;
    if (session_parse(argc, argv, &o, "Reads logs and writes every finding as CSV.", error))
        code = session_load(&o, &a, error);
    if (code == COMMAND_DONE && !*error)
        code = session_read(&a, error);
    if (code == COMMAND_DONE && !*error) {
        const char **names = g_new(const char *, a.inputs->len);
        for (guint i = 0; i < a.inputs->len; i++)
            names[i] = ((Input *)a.inputs->pdata[i])->name;
        GString *text = tables_findings(a.findings, names);
        const bool good =
            o.out ? g_file_set_contents(o.out, text->str, (gssize)text->len, error)
                  : fwrite(text->str, 1, text->len, stdout) == text->len && fflush(stdout) == 0;
        code = !good                            ? COMMAND_OUTPUT
               : session_any_severe(a.findings) ? COMMAND_SEVERE
                                                : COMMAND_DONE;
        if (!good && !*error)
            g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_IO, "standard output cannot be written");
        if (!o.quiet && good)
            session_say(&a, "findings are listed by file and line");
        g_string_free(text, TRUE);
        g_free(names);
    }
    session_clear(&a);
    session_clear_options(&o);
    return code;
}
