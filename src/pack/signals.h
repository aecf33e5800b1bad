// SPDX-License-Identifier: GPL-3.0-or-later
// signals.csv: what differs or changes by more than chance.
#ifndef CROSSWARD_PACK_SIGNALS_H
#define CROSSWARD_PACK_SIGNALS_H

#include "measure/signal.h"

// Whole file's text; free with g_string_free.
GString *signals_csv(const Signals *signals, const Comparisons *comparisons);

#endif
