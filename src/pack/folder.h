// SPDX-License-Identifier: GPL-3.0-or-later
// A pack's folder: written beside its final name, renamed into place when whole.
#ifndef CROSSWARD_PACK_FOLDER_H
#define CROSSWARD_PACK_FOLDER_H

#include <glib.h>
#include <stdbool.h>

typedef struct Folder Folder;

// Whether a pack may be called target: an existing one is an error unless force; a folder that
// holds none of the files a pack, tables, a replay or a plan is told by, yet others, is never
// replaced, nor a file. Of a link the folder that it leads to is meant; one that leads nowhere is
// never replaced. For those who would know before the work is done.
bool folder_may_begin(const char *target, bool force, GError **error);

// Begins a pack that will be called target, if it may. Until folder_free a signal to stop (SIGINT,
// SIGTERM, SIGHUP) removes what is not published before it ends the program.
Folder *folder_begin(const char *target, bool force, GError **error);

// A file of it that is written as it goes. name may lie in one subfolder ("charts/x.svg"), which is
// made when it is first needed. Never NULL: folder_close says if something failed. summed: whether
// folder_close is to tell the checksum.
typedef struct FolderFile FolderFile;
FolderFile *folder_open(Folder *folder, const char *name, bool summed);

// Writes what follows; file is a FolderFile.
void folder_add(gpointer file, const char *text, gsize length);

// What was written: its length, and its SHA-256 in hexadecimal if that was asked for, else "".
typedef struct {
    guint64 bytes;
    char sha256[65];
} FolderSum;

// Ends and frees the file; false with an error if it could not be opened or written. It is synced
// to disk beside what goes on; folder_publish says if that failed. sum may be NULL.
bool folder_close(FolderFile *file, FolderSum *sum, GError **error);

// Writes a file whole.
bool folder_write(Folder *folder, const char *name, const char *text, gsize length, GError **error);

// Path of a private empty folder for files needed on the way; it is gone when the pack is
// published. NULL with an error on failure; belongs to the folder.
const char *folder_scratch(Folder *folder, GError **error);

// Puts the whole pack in its place, once all of it is on the disk; afterwards folder_free.
bool folder_publish(Folder *folder, GError **error);

// Removes what was not published.
void folder_free(Folder *folder);

#endif
