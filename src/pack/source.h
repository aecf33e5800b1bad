// SPDX-License-Identifier: GPL-3.0-or-later
// What a report is drawn from: everything that was measured, and whose page is being written.
#ifndef CROSSWARD_PACK_SOURCE_H
#define CROSSWARD_PACK_SOURCE_H

#include "cohort/cohort.h"
#include "measure/compare.h"
#include "measure/counts.h"
#include "measure/ends.h"
#include "measure/items.h"
#include "measure/mixunits.h"
#include "measure/signal.h"
#include "measure/waiting.h"
#include "pack/lookup.h"
#include "pack/tables.h"
#include "replay/trial.h"

typedef struct FindingKinds FindingKinds;

typedef struct {
    const Estimates *e;
    const Lookup *lookup;
    const Counts *counts;
    const GPtrArray *waiting; // of WaitingGroup *: the network's
    const Network *network;
    const Comparisons *comparisons; // units against the network
    const Signals *signals;         // what differs or changes by more than chance
    const GPtrArray *mixes;         // of Mixunits
    const GPtrArray *items;         // of Item
    const Account *account;
    const Findings *findings;
    const FindingKinds *kinds; // the findings by kind and unit,
    const GPtrArray *bands;    // and bands_new of the comparisons: pack_finish makes them
    const Received *received;  // who sent what
    const Ends *ends;          // what both ends tell
    const Trial *trial;        // what other teams would have reached; NULL: no_trial says why not
    const char *no_trial;
    const char *const *files; // names of the inputs, by their index
    const TablesInput *inputs;
    guint n_inputs;
    const char *const *settings;                       // as tables_manifest takes them
    bool charts;                                       // whether charts are wanted
    void (*tick)(void *user, guint done, guint total); // told how many charts are drawn; NULL: none
    void *tick_user;
    const Hiding *hiding; // of a release: what is hidden in the estimates; else NULL
    uint16_t focus; // unit whose own page is written, the others unnamed; 0 = the network's report
} Source;

#endif
