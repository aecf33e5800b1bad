// SPDX-License-Identifier: GPL-3.0-or-later
// One file that a person named: there whole or not at all.
#ifndef CROSSWARD_BASE_OUTFILE_H
#define CROSSWARD_BASE_OUTFILE_H

#include <glib.h>
#include <stdbool.h>

// Where what is called path lies: where the link leads, if it is one; a link that leads nowhere
// stays. No slash at the end. To be freed.
char *outfile_place(const char *path);

// Writes the text to path: an ordinary file is replaced when the new one is whole; into a device, a
// pipe or what a link leads to (/dev/null, /dev/stdout) it is written, and that stays what it is.
// False with an error.
bool outfile_write(const char *path, const char *text, gsize length, GError **error);

// A file that takes longer: it is written under another name beside its place, then renamed. Until
// outfile_free a signal to stop (SIGINT, SIGTERM, SIGHUP) removes what is not published before it
// ends the program.
typedef struct Outfile Outfile;

// Makes the empty file, with that mode less the umask. NULL with an error.
Outfile *outfile_begin(const char *path, int mode, GError **error);

// The name that it has meanwhile.
const char *outfile_name(const Outfile *out);

// Puts it in its place once it is on the disk; over what is there only if replace. False with an
// error. Afterwards outfile_free.
bool outfile_publish(Outfile *out, bool replace, GError **error);

// Removes what was not published.
void outfile_free(Outfile *out);

#endif
