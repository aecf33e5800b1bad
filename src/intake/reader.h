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

typedef struct {
    unsigned threads; // that read at the same time, 0 = number of processors
    size_t chunk;     // bytes of a piece, 0 = as is best; the result does not depend on it
    // Called now and then by the calling thread: about so many bytes of this input were dealt with,
    // and so many rows read. NULL: nobody asks.
    void (*tick)(void *user, uint64_t bytes, uint64_t rows);
    void *tick_user;
} ReaderOptions;

// Reads one input (its index is `file`): records go to t, what was found to findings. False and an
// error if it is refused or can't be read (after a line end its message may say what to do, alike
// for all logs with that trouble); then t and findings are as before. After the last input
// call transfers_seal.
bool reader_read(Input *input, uint16_t file, const Network *network, const ReaderOptions *options,
                 Transfers *t, Findings *findings, GError **error);

#endif
