// SPDX-License-Identifier: GPL-3.0-or-later
// agreement.csv and recorded.csv: what the logs of both ends tell; received.csv: who sent what.
#ifndef CROSSWARD_PACK_ENDSTABLES_H
#define CROSSWARD_PACK_ENDSTABLES_H

#include "cohort/received.h"
#include "measure/ends.h"

// Each returns a whole file's text; free with g_string_free. agreement.csv has one row a field that
// both ends know, recorded.csv one row a sending unit, `all` first.
GString *endstables_agreement(const Ends *ends);
GString *endstables_recorded(const Ends *ends, const Transfers *t);

// One row a unit that keeps a log and a month.
GString *endstables_received(const Received *received, const Transfers *t);

#endif
