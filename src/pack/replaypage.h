// SPDX-License-Identifier: GPL-3.0-or-later
// The page and charts of a replay's pack.
#ifndef CROSSWARD_PACK_REPLAYPAGE_H
#define CROSSWARD_PACK_REPLAYPAGE_H

#include "pack/exhibit.h"
#include "replay/trial.h"

// Exhibits of a replay: each a measure against the number of teams on each roster, chart and table.
// most: how many, the main ones first. charts: whether charts are wanted. GPtrArray of Exhibit.
GPtrArray *replaypage_exhibits(const Trial *trial, guint most, bool charts);

// Appends answers, assumptions and cautions to the audit's report. t: transfers of the demand.
void replaypage_words(GString *out, const Trial *trial, const Transfers *t);

// replay.html: answers, exhibits (drawn already), assumptions, cautions. Whole text of the page;
// free with g_string_free.
GString *replaypage_html(const Source *s, const Trial *trial, const GPtrArray *exhibits);

#endif
