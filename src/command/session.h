// SPDX-License-Identifier: GPL-3.0-or-later
// What the commands that read logs have in common: options, settings, logs -> cohort.
#ifndef CROSSWARD_COMMAND_SESSION_H
#define CROSSWARD_COMMAND_SESSION_H

#include "cohort/cohort.h"
#include "command/progress.h"
#include "intake/inputs.h"
#include "intake/reader.h"
#include "measure/estimate.h"

typedef struct {
    char *network_dir, *period, *out, *chart_formats, **logs;
    double confidence;
    int threads, suppress; // suppress: counts of 1 to suppress - 1 are hidden; 0: none is
    gboolean no_charts, quiet, force, skip_refused;
} SessionOptions;

// The shared options that a command may use; --quiet is every command's.
typedef enum {
    SESSION_NETWORK = 1,
    SESSION_PERIOD = 2,
    SESSION_CONFIDENCE = 4,
    SESSION_THREADS = 8,
    SESSION_NO_CHARTS = 16,
    SESSION_FORMATS = 32,
    SESSION_SKIP = 64,
    SESSION_FORCE = 128,
    SESSION_READING = SESSION_NETWORK | SESSION_PERIOD | SESSION_THREADS | SESSION_SKIP,
    SESSION_PACK =
        SESSION_READING | SESSION_CONFIDENCE | SESSION_NO_CHARTS | SESSION_FORMATS | SESSION_FORCE,
} SessionUse;

// What a command's --help says, and what it takes.
typedef struct {
    const char *arguments; // as the usage line has them: "LOG..."
    const char *about;
    unsigned uses;           // of SessionUse
    const char *out, *place; // what --out is for and what it names, "DIR"; NULL = there is none
    const GOptionEntry *own; // options of its own, ended by {0}; NULL = none
    unsigned words;          // that it needs at least: 1 = a log
    char *(*closing)(void);  // text below the options, freed with g_free; NULL = none
} SessionCommand;

typedef struct {
    Network *network;
    GPtrArray *catalogue, *inputs;
    Transfers *t;
    Findings *findings;
    Account account;
    Join *join;
    Received *received;
    Condition *include;
    EstimateSettings settings;
    ReaderOptions reading;
    bool skip_refused;
    char **unguided; // LOG arguments, borrowed, where no --network was given; else NULL
    bool keep_ids;   // pseudonyms are wanted when all is joined
    bool quiet;
    Progress *progress; // NULL: reading shows one of its own
} Session;

// Reads the options; false with an error for wrong usage. Those common to all commands that read
// logs (--network, --period, --confidence, --threads, --no-charts) are taken by each, so that a
// script can give them to all; where one changes nothing, --help is silent about it, and standard
// error names it. Any other that the command doesn't use is refused. Free: session_clear_options.
bool session_parse(char **argv, const SessionCommand *c, SessionOptions *o, GError **error);

// Whether limits of that confidence can be told, and whether an option names a file or folder to
// write: nothing and -, which a shell's reader takes for standard output, do not. False with an
// error for wrong usage.
bool session_sure(double confidence, GError **error);
bool session_names(const char *option, const char *name, GError **error);

// Reads settings and catalogue, finds the inputs, reads them into the cohort. Exit code of
// command.h; not COMMAND_DONE comes with an error. Free with session_clear, also after failure.
int session_load(const SessionOptions *o, Session *a, GError **error);
int session_read(Session *a, GError **error);
void session_clear(Session *a);
void session_clear_options(SessionOptions *o);

// Whether the error is that a file can't be opened or read (COMMAND_INPUT), not what is in it.
bool session_unreadable(const GError *error);

// Whether the file at path may be written: no log that is read may (COMMAND_OUTPUT), whatever else
// was asked for.
bool session_may_write(const Session *a, const char *path, GError **error);

// Whether any finding is severe.
bool session_any_severe(const Findings *findings);

// The account of rows and more lines, to standard error.
void session_say(const Session *a, const char *out);

#endif
