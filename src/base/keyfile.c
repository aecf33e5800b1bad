// SPDX-License-Identifier: GPL-3.0-or-later
// Loading key files.
#include "base/keyfile.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <string.h>

// Opens nothing but an ordinary file: another may never end.
static bool is_ordinary(const char *path, GError **error) {
    GStatBuf about;
    if (g_stat(path, &about) != 0) {
        const int why = errno;
        g_set_error_literal(error, G_FILE_ERROR, (gint)g_file_error_from_errno(why),
                            g_strerror(why));
        return false;
    }
    if (!S_ISREG(about.st_mode))
        g_set_error(error, G_KEY_FILE_ERROR, G_KEY_FILE_ERROR_PARSE, "is no ordinary file");
    return S_ISREG(about.st_mode);
}

bool keyfile_load(GKeyFile *keys, const char *path, GError **error) {
    char *text;
    gsize length;
    if (!is_ordinary(path, error) || !g_file_get_contents(path, &text, &length, error))
        return false;
    const gsize mark = length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
    bool good = g_utf8_validate(text, (gssize)length, NULL); // a NUL is no part of a text
    if (!good)
        g_set_error(error, G_KEY_FILE_ERROR, G_KEY_FILE_ERROR_PARSE,
                    "the file is not UTF-8 text; save it as UTF-8");
    good = good && (length == mark || g_key_file_load_from_data(keys, text + mark, length - mark,
                                                                G_KEY_FILE_NONE, error));
    g_free(text);
    return good;
}
