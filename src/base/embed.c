// SPDX-License-Identifier: GPL-3.0-or-later
// Looks up embedded text files by name.
#include "base/embed.h"

#include <string.h>

const char *embed_text(const char *name) {
    for (const EmbedFile *f = embed_files; f->name; f++)
        if (strcmp(f->name, name) == 0)
            return f->text;
    return NULL;
}
