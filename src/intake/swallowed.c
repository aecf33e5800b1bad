// SPDX-License-Identifier: GPL-3.0-or-later
// Counts delimiters line by line.
#include "intake/swallowed.h"

#include <string.h>

bool swallowed_rows(const char *text, size_t n, char delimiter, unsigned columns) {
    const unsigned whole = columns > 3 ? columns - 1 : 2;
    unsigned found = 0;
    bool first = true;
    for (size_t i = 0; i < n; i++) {
        if (text[i] == '\n' || text[i] == '\r') {
            first = false;
            found = 0;
        } else if (!first && text[i] == delimiter && ++found == whole) {
            return true;
        }
    }
    return false;
}
