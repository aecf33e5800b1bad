// SPDX-License-Identifier: GPL-3.0-or-later
// The report: its parts, and the two files that hold it, report.html and report.md.
#ifndef CROSSWARD_PACK_REPORT_H
#define CROSSWARD_PACK_REPORT_H

#include "pack/exhibit.h"

typedef struct {
    const Source *s;
    GPtrArray *cards;    // of Card *
    GPtrArray *exhibits; // of Exhibit *
} Report;

// The parts of a report on the network, or (s->focus) on one unit. Their charts are to be drawn
// before a page is written. Free with report_free.
Report *report_new(const Source *s);
void report_free(Report *report);

// Appends the charts of all parts, still to be drawn, to a list of Chart *.
void report_charts(const Report *report, GPtrArray *charts);

// Whole text of the network's page (without script, nothing outside the file is needed) and of the
// same for pasting into minutes. Free with g_string_free.
GString *report_html(const Report *report);
GString *report_markdown(const Report *report);

// Appends what differs or changes by more than chance, in words: the network's report the most
// important of all, a unit's its own.
void report_signals(GString *out, const Source *s);

// Appends one theme's section: question, answer, exhibits.
void report_theme(GString *out, const Report *report, Theme theme);

#endif
