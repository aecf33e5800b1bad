// SPDX-License-Identifier: GPL-3.0-or-later
// A replay in sentences: what it answers, and what it assumes.
#ifndef CROSSWARD_REPLAY_ANSWERS_H
#define CROSSWARD_REPLAY_ANSWERS_H

#include "replay/trial.h"

// char *, each a whole sentence or two of plain text (to be escaped where it goes). t: the
// transfers of the replay's demand. Free with g_ptr_array_unref.
char *answers_headline(const Trial *trial);   // the one for as many teams as pay, 1 at least
GPtrArray *answers_list(const Trial *trial);  // what it comes to
GPtrArray *answers_brief(const Trial *trial); // the same after the headline and beside the charts
GPtrArray *answers_assumptions(const Trial *trial, const Transfers *t); // what it rests on
GPtrArray *answers_cautions(void);                                      // what it is not

// "round the clock", "days (08:00 to 20:00)": a roster's name and hours; to be freed.
char *answers_roster(const Rules *rules, unsigned roster);

#endif
