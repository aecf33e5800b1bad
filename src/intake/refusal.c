// SPDX-License-Identifier: GPL-3.0-or-later
// The error of a refused log.
#include "intake/refusal.h"

#include "intake/reader.h"

bool refusal_set(GError **error, const char *format, ...) {
    va_list list;
    va_start(list, format);
    g_propagate_error(error, g_error_new_valist(READER_ERROR, READER_ERROR_REFUSED, format, list));
    va_end(list);
    return false;
}
