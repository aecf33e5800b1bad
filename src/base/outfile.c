// SPDX-License-Identifier: GPL-3.0-or-later
// Writing one file.
#include "base/outfile.h"

#include <errno.h>
#include <stdio.h>

static bool write_into(const char *path, const char *text, gsize length, GError **error) {
    FILE *stream = fopen(path, "wb");
    bool good = stream && fwrite(text, 1, length, stream) == length;
    int number = errno;
    if (stream && fclose(stream) != 0 && good) {
        good = false;
        number = errno;
    }
    if (!good)
        g_set_error(error, G_FILE_ERROR, (gint)g_file_error_from_errno(number), "%s: %s", path,
                    g_strerror(number));
    return good;
}

bool outfile_write(const char *path, const char *text, gsize length, GError **error) {
    const bool special =
        g_file_test(path, G_FILE_TEST_EXISTS) && !g_file_test(path, G_FILE_TEST_IS_REGULAR);
    return special ? write_into(path, text, length, error)
                   : g_file_set_contents(path, text, (gssize)length, error);
}
