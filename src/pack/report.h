// SPDX-License-Identifier: GPL-3.0-or-later
// report.html: the report in one self-contained file, without script.
#ifndef CROSSWARD_PACK_REPORT_H
#define CROSSWARD_PACK_REPORT_H

#include "pack/source.h"

// Whole text of the page; exhibits are those of exhibit_all, drawn. Free with g_string_free.
GString *report_html(const Source *source, const GPtrArray *exhibits);

#endif
