// SPDX-License-Identifier: GPL-3.0-or-later
// Reads CSV logs into the column store; every row is accounted for.
#ifndef CROSSWARD_INTAKE_READER_H
#define CROSSWARD_INTAKE_READER_H

#include "record/finding.h"
#include "record/network.h"
#include "record/transfers.h"

typedef enum { READER_ERROR_INPUT, READER_ERROR_REFUSED, READER_ERROR_SETTING } ReaderError;
#define READER_ERROR reader_error_quark()
GQuark reader_error_quark(void);

typedef struct {
    char *path;       // as opened
    char *name;       // below the LOG that was given; what outputs say
    uint64_t bytes;   // size
    uint64_t rows;    // records after the header that are not blank
    char *sha256;     // of the bytes, hexadecimal
    char *keeper;     // recorded_by of the settings, or NULL
    int32_t received; // day, WHEN_UNKNOWN if not set
} Input;

// Files that the LOG arguments name: a file, or every *.csv below a folder in name order. GPtrArray
// of Input.
GPtrArray *reader_inputs(char **logs, GError **error);

// Reads one input (its index is `file`): records go to t, what was found to findings.
bool reader_read(Input *input, uint16_t file, const Network *network, Transfers *t,
                 Findings *findings, GError **error);

#endif
