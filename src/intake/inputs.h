// SPDX-License-Identifier: GPL-3.0-or-later
// The files that a run reads.
#ifndef CROSSWARD_INTAKE_INPUTS_H
#define CROSSWARD_INTAKE_INPUTS_H

#include <glib.h>
#include <stdint.h>
#include <stdio.h>

typedef struct {
    char *path;       // as opened
    char *name;       // below the LOG that was given; what outputs say
    uint64_t bytes;   // size
    uint64_t rows;    // records after the header that are not blank
    char *sha256;     // of the bytes, hexadecimal
    char *keeper;     // recorded_by of the settings, or NULL
    int32_t received; // day, WHEN_UNKNOWN if not set
    FILE *spool;      // copy of what can be read only once, or NULL; owned
    // How it was read, for a second look at its rows:
    char *encoding;    // as iconv names it; NULL until it is known
    char delimiter;    // between cells
    uint8_t *masks;    // MaskColumn of each column, n_columns of them
    GHashTable *words; // that a copied row may show (mask_row), or NULL
    unsigned n_columns;
} Input;

// Files that the LOG arguments name: a file, or every *.csv below a folder in name order. GPtrArray
// of Input.
GPtrArray *inputs_find(char **logs, GError **error);

#endif
