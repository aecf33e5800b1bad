// SPDX-License-Identifier: GPL-3.0-or-later
// The bytes of one input, hashed and counted while they are read, as UTF-8 text.
#ifndef CROSSWARD_INTAKE_BYTES_H
#define CROSSWARD_INTAKE_BYTES_H

#include "intake/inputs.h"

#include <stdbool.h>
#include <stddef.h>

typedef struct Bytes Bytes;

// Opens an input; what can be read only once (standard input, a pipe) is first copied to a nameless
// file, input->spool. What may never end is not opened: a device other than a terminal, a pipe in
// whose first MiB no line ends. encoding is as iconv names it; NULL: UTF-16 is known by its mark or
// its zeros, else the text is UTF-8, or Windows-1252 if it is no UTF-8 anywhere. NULL and an error
// (READER_ERROR_INPUT) if that can't be done. Free with bytes_free.
Bytes *bytes_open(Input *input, const char *encoding, GError **error);
void bytes_free(Bytes *bytes);

// Appends some text, of about `most` bytes, nothing only if the input ends. False and an error if
// it can't be read (READER_ERROR_INPUT), or is no text of its encoding (READER_ERROR_REFUSED).
bool bytes_read(Bytes *bytes, GString *text, size_t most, GError **error);

// Whether the input has ended.
bool bytes_ended(const Bytes *bytes);

// How many of its bytes were read so far.
uint64_t bytes_so_far(const Bytes *bytes);

// The encoding so far, as iconv names it.
const char *bytes_encoding(const Bytes *bytes);

// Reads on to the end without decoding, and sets the input's size and SHA-256. False and an error
// if that can't be read.
bool bytes_finish(Bytes *bytes, GError **error);

#endif
