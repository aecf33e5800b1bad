// SPDX-License-Identifier: GPL-3.0-or-later
// Writing a release.
#include "pack/release.h"

#include "pack/tables.h"

bool release_write(Folder *f, const Source *s, const Hiding *hiding, GError **error) {
    FolderFile *csv = folder_open(f, "summary.csv", true);
    FolderFile *json = folder_open(f, "summary.json", false);
    (void)hiding;
    tables_summary(s->e, folder_add, csv, json);
    bool good = folder_close(csv, NULL, error);
    return folder_close(json, NULL, good ? error : NULL) && good;
}
