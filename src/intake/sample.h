// SPDX-License-Identifier: GPL-3.0-or-later
// The first rows of a foreign log, as text by column.
#ifndef CROSSWARD_INTAKE_SAMPLE_H
#define CROSSWARD_INTAKE_SAMPLE_H

#include "intake/inputs.h"
#include "record/network.h"

#include <stdbool.h>

typedef struct {
    char *head;
    GPtrArray *cells; // char *, one a sampled row, blanks and quotes round them taken off
} SampleColumn;

typedef struct {
    SampleColumn *columns;
    unsigned n_columns;
    size_t rows; // sampled: those with as many cells as the heading, no totals or notes
    char delimiter;
    char separator;       // of a cell's events, as the settings say; 0: they don't
    uint32_t heading_row; // physical line
} Sample;

// Reads up to `most` rows of an input under its settings in network. NULL and an error
// (READER_ERROR) if it can't be read or has no shape. Free with sample_free.
Sample *sample_read(Input *input, const Network *network, size_t most, GError **error);
void sample_free(Sample *sample);

#endif
