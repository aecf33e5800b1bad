// SPDX-License-Identifier: GPL-3.0-or-later
// Derived fields of a record, see fields.def.
#ifndef CROSSWARD_RECORD_DERIVE_H
#define CROSSWARD_RECORD_DERIVE_H

#include "record/transfers.h"

// Fills the derived columns of all transfers, with so many threads; call it once the store holds
// what it will hold.
void derive_fill(Transfers *t, const Network *network, int threads);

#endif
