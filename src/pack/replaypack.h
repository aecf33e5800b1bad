// SPDX-License-Identifier: GPL-3.0-or-later
// The files that `replay` writes: its figures, travel times, each request's end, and the page.
#ifndef CROSSWARD_PACK_REPLAYPACK_H
#define CROSSWARD_PACK_REPLAYPACK_H

#include "replay/answers.h"

// replay.csv: roster,teams,measure,estimate,lower,upper,confidence,replicates,scale
GString *replaypack_figures(const Trial *trial);

// travel.csv: from,to,minutes,basis,journeys,km of every pair of units that the replay uses.
GString *replaypack_travel(const Trial *trial, const Transfers *t);

// requests.csv: roster,teams,file,line,state,team,base,sent_after,bedside_after,free_after, one row
// a request and scenario; minutes after the request. names: of the inputs, by index.
GString *replaypack_requests(const Trial *trial, const Transfers *t, const char *const *names);

#endif
