// SPDX-License-Identifier: GPL-3.0-or-later
// Text files of the tree that are compiled into the program (catalogue, SQL, chart scripts, style
// sheet).
#ifndef CROSSWARD_BASE_EMBED_H
#define CROSSWARD_BASE_EMBED_H

typedef struct {
    const char *name; // base name in the tree, e.g. "indicators.csv"
    const char *text; // whole content, NUL-terminated
} EmbedFile;

// All embedded files; ends with a name of NULL. Written by embed.awk at build time.
extern const EmbedFile embed_files[];

// Content of the embedded file called name, or NULL if there is none.
const char *embed_text(const char *name);

#endif
