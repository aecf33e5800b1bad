// SPDX-License-Identifier: GPL-3.0-or-later
// Why a log is refused.
#ifndef CROSSWARD_INTAKE_REFUSAL_H
#define CROSSWARD_INTAKE_REFUSAL_H

#include <glib.h>
#include <stdbool.h>

// Sets the error READER_ERROR_REFUSED (without file and line) with that text; false, always.
bool refusal_set(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);

#endif
