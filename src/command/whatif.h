// SPDX-License-Identifier: GPL-3.0-or-later
// A replay of the logs that were read, for the commands that show one.
#ifndef CROSSWARD_COMMAND_WHATIF_H
#define CROSSWARD_COMMAND_WHATIF_H

#include "command/session.h"

#include "replay/trial.h"

#define WHATIF_RULES "replay.ini" // in the network's folder

typedef struct {
    Rules *rules;
    Demand *demand;
    Trial *trial; // rests on the other two and on the session
} Whatif;

enum { WHATIF_REPLICATES = 1000, WHATIF_SEED = 1 }; // unless somebody says otherwise

// Path of replay.ini in the network's folder; NULL if there is none. To be freed.
char *whatif_own_rules(const Network *network);

// Reads the rules (file NULL: the built-in ones); false: *error says what is wrong in them.
bool whatif_rules(Whatif *w, const char *file, const Network *network, GError **error);

// Replays the requests of the session's logs and period by rules read before; false: *error says
// why they can't be.
bool whatif_run(Whatif *w, const Session *session, const TrialSettings *settings, GError **error);

void whatif_clear(Whatif *w);

#endif
