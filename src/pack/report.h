// SPDX-License-Identifier: GPL-3.0-or-later
// report.html: the report in one self-contained file, without script.
#ifndef CROSSWARD_PACK_REPORT_H
#define CROSSWARD_PACK_REPORT_H

#include "cohort/cohort.h"
#include "measure/estimate.h"

// Whole text of the page; free with g_string_free.
GString *report_html(const Estimates *estimates, const Network *network, const Account *account);

#endif
