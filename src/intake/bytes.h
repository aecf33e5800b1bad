// SPDX-License-Identifier: GPL-3.0-or-later
// The bytes of one input, hashed and counted while they are read, as UTF-8 text.
#ifndef CROSSWARD_INTAKE_BYTES_H
#define CROSSWARD_INTAKE_BYTES_H

#include "intake/inputs.h"

#include <stdbool.h>
#include <stddef.h>

typedef struct Bytes Bytes;

// Opens an input. NULL and an error (READER_ERROR_INPUT) if that can't be done. Free with
// bytes_free, which sets the input's size and SHA-256 to those of the bytes read.
Bytes *bytes_open(Input *input, GError **error);
void bytes_free(Bytes *bytes);

// Appends about `most` bytes of text, at least one unless the input ends. False and an error if
// they can't be read, or are no text.
bool bytes_read(Bytes *bytes, GString *text, size_t most, GError **error);

// Whether the input has ended.
bool bytes_ended(const Bytes *bytes);

#endif
