// SPDX-License-Identifier: GPL-3.0-or-later
// The pack: report, charts and tables, drawn from what was measured.
#ifndef CROSSWARD_PACK_PACK_H
#define CROSSWARD_PACK_PACK_H

#include "pack/folder.h"
#include "pack/gnuplot.h"
#include "pack/source.h"

// Writes a chart that is drawn: charts/NAME.svg, .gp and .dat, and as PNG and PDF if asked.
// scratch: of the folder.
bool pack_chart(Folder *folder, const Chart *chart, const GnuplotFormats *formats,
                const char *scratch, GError **error);

// A pack that is being written.
typedef struct Pack Pack;

// Begins it with what needs little but the estimates: summary.csv, .json and .xlsx. If more threads
// than one may work, they grow beside what else is measured meanwhile; all three arguments must
// stay as they are until pack_finish.
Pack *pack_begin(Folder *folder, const Estimates *estimates, const Network *network);

// Hands over the signals, which the workbook names too; once, before pack_finish.
void pack_signals(Pack *pack, const Signals *signals);

// Writes the rest: report, charts, other tables. source->charts says whether charts are wanted
// (gnuplot_find must have said yes); formats, which files of each besides SVG. False with an error
// if any file could not be written. Frees the pack.
bool pack_finish(Pack *pack, const Source *source, const GnuplotFormats *formats, GError **error);

#endif
