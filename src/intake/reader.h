// SPDX-License-Identifier: GPL-3.0-or-later
// Reads CSV logs into the column store; every row is accounted for.
#ifndef CROSSWARD_INTAKE_READER_H
#define CROSSWARD_INTAKE_READER_H

#include "intake/inputs.h"
#include "record/finding.h"
#include "record/network.h"
#include "record/transfers.h"

typedef enum { READER_ERROR_INPUT, READER_ERROR_REFUSED, READER_ERROR_SETTING } ReaderError;
#define READER_ERROR reader_error_quark()
GQuark reader_error_quark(void);

// Reads one input (its index is `file`): records go to t, what was found to findings.
bool reader_read(Input *input, uint16_t file, const Network *network, Transfers *t,
                 Findings *findings, GError **error);

#endif
