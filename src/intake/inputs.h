// SPDX-License-Identifier: GPL-3.0-or-later
// The files that a run reads.
#ifndef CROSSWARD_INTAKE_INPUTS_H
#define CROSSWARD_INTAKE_INPUTS_H

#include "intake/guard.h"
#include "record/finding.h"

#include <glib.h>
#include <stdint.h>
#include <stdio.h>

typedef struct {
    char *path;        // as opened
    char *name;        // below the LOG that was given, as UTF-8; what outputs say
    const char *hides; // what the file's name seems to hold (guard_word), so that `name` is another
    uint64_t bytes;    // size
    uint64_t rows;     // records after the header that are not blank
    char *sha256;      // of the bytes, hexadecimal
    char *keeper;      // recorded_by of the settings, or NULL
    int32_t received;  // day, WHEN_UNKNOWN if not set
    FILE *spool;       // copy of what can be read only once, or NULL; owned
    // How it was read, for a second look at its rows:
    char *encoding;    // as iconv names it; NULL until it is known
    char delimiter;    // between cells
    uint8_t *masks;    // MaskColumn of each column, n_columns of them
    GHashTable *words; // that a copied row may show (mask_row), or NULL
    unsigned n_columns;
} Input;

// Files that the LOG arguments name: a file, or every *.csv below a folder in name order. Links are
// followed, to no folder twice; a folder below that an earlier run wrote (ours.h) is passed over,
// and so are workbooks and texts of other names: `passed` says which and why (char *). GPtrArray of
// Input.
GPtrArray *inputs_find(char **logs, GPtrArray *passed, GError **error);

// Whether one of them is the very file at path, however it is named.
bool inputs_include(const GPtrArray *inputs, const char *path);

// What the name of a file (or a pattern for it) seems to hold that nobody should read, GUARD_NONE
// if nothing. Numbers are not judged: a stamp of ten digits may pass for one.
GuardKind inputs_hides(const char *name);

// The name by which network.ini knows the file, which no output shows where it hides something.
const char *inputs_own_name(const Input *input);

// Adds the finding `file-name` where outputs do not show the file's own name.
void inputs_say_name(const Input *input, uint32_t file, Findings *findings);

#endif
