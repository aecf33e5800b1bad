// SPDX-License-Identifier: GPL-3.0-or-later
// Base cover as a table: base-cover.csv.
#ifndef CROSSWARD_PACK_COVERTABLE_H
#define CROSSWARD_PACK_COVERTABLE_H

#include "measure/cover.h"

// unit,figure,group,events,total,unknown,estimate,lower,upper,scale: every figure of every unit,
// `all` first. Free with g_string_free.
GString *covertable_csv(const Cover *cover, const Transfers *t);

#endif
