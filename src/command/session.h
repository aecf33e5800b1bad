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
    int threads;
    gboolean no_charts, quiet, force, skip_refused;
    const GOptionEntry *more; // further options of the command, ended by {0}; NULL = none
} SessionOptions;

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
    Progress *progress; // NULL = none is shown
} Session;

// Reads the options; false with an error for wrong usage. Free with session_clear_options.
bool session_parse(int argc, char **argv, SessionOptions *o, const char *summary, GError **error);

// The same for a command with options of its own, which end with an empty entry.
bool session_parse_with(int argc, char **argv, SessionOptions *o, const GOptionEntry *own,
                        const char *summary, GError **error);

// Reads settings and catalogue, finds the inputs, reads them into the cohort. Exit code of
// command.h; not COMMAND_DONE comes with an error. Free with session_clear, also after failure.
int session_load(const SessionOptions *o, Session *a, GError **error);
int session_read(Session *a, GError **error);
void session_clear(Session *a);
void session_clear_options(SessionOptions *o);

// Whether the error is that a file can't be opened or read (COMMAND_INPUT), not what is in it.
bool session_unreadable(const GError *error);

// Whether any finding is severe.
bool session_any_severe(const Findings *findings);

// The account of rows and more lines, to standard error.
void session_say(const Session *a, const char *out);

#endif
