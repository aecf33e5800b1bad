// SPDX-License-Identifier: GPL-3.0-or-later
// The pack: report, charts and tables, drawn from what was measured.
#ifndef CROSSWARD_PACK_PACK_H
#define CROSSWARD_PACK_PACK_H

#include "pack/folder.h"
#include "pack/gnuplot.h"
#include "pack/source.h"

// Writes everything that is drawn from the estimates: report, summaries, charts. source->charts
// says whether charts are wanted (gnuplot_find must have said yes); formats, which files of each
// besides SVG.
// Writes a chart that is drawn: charts/NAME.svg, .gp and .dat, and as PNG and PDF if asked.
// scratch: of the folder.
bool pack_chart(Folder *folder, const Chart *chart, const GnuplotFormats *formats,
                const char *scratch, GError **error);

bool pack_write(Folder *folder, const Source *source, const GnuplotFormats *formats,
                GError **error);

#endif
