// SPDX-License-Identifier: GPL-3.0-or-later
// Loading key files.
#include "base/keyfile.h"

bool keyfile_load(GKeyFile *keys, const char *path, GError **error) {
    char *text;
    gsize length;
    if (!g_key_file_load_from_file(keys, path, G_KEY_FILE_NONE, error) ||
        !g_file_get_contents(path, &text, &length, error))
        return false;
    const bool good = g_utf8_validate(text, (gssize)length, NULL); // a NUL is no part of a text
    if (!good)
        g_set_error(error, G_KEY_FILE_ERROR, G_KEY_FILE_ERROR_PARSE, "the file is not UTF-8 text");
    g_free(text);
    return good;
}
