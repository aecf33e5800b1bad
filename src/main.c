// SPDX-License-Identifier: GPL-3.0-or-later
// The command table and nothing else.
#include "base/memory.h"
#include "base/version.h"
#include "command/command.h"
#include "command/interval.h"
#include "command/terminal.h"

#include <gsl/gsl_errno.h>
#include <locale.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

static const struct {
    const char *name;
    CommandRun run;
    const char *summary;
} commands[] = {
    {"audit", audit_run,
     "the main job: logs in, the pack out, every row accounted for, every indicator counted"},
    {"check", check_run, "every finding about the logs, with what to do about each"},
    {"map", map_run, "drafts the mapping of one log that has other headings or words"},
    {"trace", trace_run, "the records behind one number, with file and line"},
    {"plan", plan_run,
     "how many transfers or quarters until a given change can be told from chance"},
    {"replay", replay_run,
     "what 0, 1, 2 ... dedicated teams would have reached of the requests in the logs"},
    {"interval", interval_run, "an estimate with its limits from counts given by hand"},
    {"export", export_run,
     "the cohort and every count as an SQLite database, or counts and estimates as CSV"},
    {"synth", synth_run, "invented logs of an invented network, with the truth beside them"},
};

static void print_help(FILE *to) {
    fputs("Usage: crossward COMMAND [OPTIONS] LOG...\n\nCommands:\n", to);
    for (size_t i = 0; i < G_N_ELEMENTS(commands); i++)
        fprintf(to, "  %-10s %s\n", commands[i].name, commands[i].summary);
    fputs("\nLOG is a CSV file, a folder (every *.csv under it) or - for standard input.\n"
          "`crossward COMMAND --help` says more of one, `crossward --version` which version this "
          "is.\nExit: 0 done; 1 done, but a finding is "
          "severe; 2 wrong usage; 3 an "
          "input could not be\nread or was refused; 4 an output could not be written; 5 a tool it "
          "needs is missing.\n",
          to);
}

// Whether --version stands among the options, of whatever command.
static bool wants_version(char **argv) {
    for (char **word = argv + 1; *word && strcmp(*word, "--") != 0; word++)
        if (!strcmp(*word, "--version"))
            return true;
    return false;
}

int main(int argc, char **argv) {
    gsl_set_error_handler_off();
    memory_keep_little();
    setlocale(LC_CTYPE, ""); // for text on the terminal; numbers keep the locale C
    terminal_begin();
    if (argc >= 2 && (!strcmp(argv[1], "--help") || !strcmp(argv[1], "-h"))) {
        print_help(stdout);
        return fflush(stdout) == 0 ? COMMAND_DONE : COMMAND_OUTPUT;
    }
    if (wants_version(argv)) {
        puts("crossward " VERSION_TEXT);
        return fflush(stdout) == 0 ? COMMAND_DONE : COMMAND_OUTPUT;
    }
    for (size_t i = 0; argc >= 2 && i < G_N_ELEMENTS(commands); i++)
        if (!strcmp(argv[1], commands[i].name)) {
            GError *error = NULL;
            char *name = g_strconcat("crossward ", argv[1], NULL);
            g_set_prgname(name); // for the usage line
            g_free(name);
            const int code = commands[i].run(argc - 1, argv + 1, &error);
            if (error)
                g_printerr("crossward %s: %s\n", argv[1], error->message);
            if (g_error_matches(error, G_OPTION_ERROR, G_OPTION_ERROR_UNKNOWN_OPTION))
                g_printerr("`crossward %s --help` lists the options that it has\n", argv[1]);
            g_clear_error(&error);
            return code;
        }
    if (argc >= 2)
        g_printerr("crossward: no command '%s'\n", argv[1]);
    print_help(stderr);
    return COMMAND_USAGE;
}
